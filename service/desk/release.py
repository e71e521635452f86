"""Whether a report that the rules let out may go out unread: the switch of its class, and the draw for re-reading."""

import hashlib
from typing import NamedTuple

from service.agronomy.findings import Note, Reason
from service.agronomy.tables import Library
from service.desk.callers import LOCAL, Caller
from service.desk.office import Office

RELEASE, SHADOW, PAUSED = "release", "shadow", "paused"
MODES = (SHADOW, RELEASE, PAUSED)
ALL = "all"
"""The switch for every class at once."""
NO_CROP = "no_crop"
"""The group of reports without a crop."""
REREAD_PCT = 5.0
"""Share of unread reports that are drawn for re-reading, unless the class says otherwise: common practice."""


class Gate(NamedTuple):
    """The switch in front of one report: its class, its crop group, its mode and its re-reading share in percent."""

    release_class: str
    crop_group: str
    mode: str
    reread_pct: float


def class_id(crop_group: str, organization: str) -> str:
    """The id of a class: one crop group in one office."""
    return f"{crop_group}.{organization}"


def group_of(library: Library, crop: str | None) -> str:
    """The crop group that a report counts for."""
    return library.crops[crop].group if crop is not None and crop in library.crops else NO_CROP


def first_mode(caller: Caller) -> str:
    """The mode of a class that nobody has set: out unread in open local mode and in the sandbox, else in the shadow."""
    return RELEASE if caller.kind == LOCAL or caller.sandbox else SHADOW


def gate_of(caller: Caller, office: Office, crop_group: str) -> Gate:
    """The switch as it stands now, read from the database for every report; without one nothing was ever switched."""
    name = class_id(crop_group, caller.organization)
    if office.store is None:
        return Gate(name, crop_group, RELEASE, 0.0)
    with office.store.reading() as reading:
        set_by_hand = reading.classes.some((ALL, name))
    own = set_by_hand.get(name)
    stopped = ALL in set_by_hand and set_by_hand[ALL].mode == PAUSED
    mode = PAUSED if stopped else own.mode if own else first_mode(caller)
    share = own.reread_pct if own and own.reread_pct is not None else REREAD_PCT
    return Gate(name, crop_group, mode, share)


def standing(mode: str) -> Reason | None:
    """What stands against letting a report out unread, whatever the rules say; None where nothing does."""
    if mode == RELEASE:
        return None
    if mode == PAUSED:
        return Reason("class_paused", "hold", ask=Note("ask.class_paused"))
    return Reason("class_in_shadow", "hold", ask=Note("ask.class_in_shadow"))


def drawn(gate: Gate, id: str) -> bool:  # noqa: A002
    """Whether a report that goes out unread is drawn for re-reading: by its id, which is random."""
    if gate.mode != RELEASE or gate.reread_pct <= 0:
        return False
    lot = int.from_bytes(hashlib.sha256(id.encode()).digest()[:4])
    return lot < gate.reread_pct / 100 * 2**32
