"""Whether a report that the rules let out may go out unread: the switch of its class, and the draw for re-reading."""

import hashlib
from datetime import datetime, timedelta
from typing import NamedTuple

from service.agronomy.findings import Note, Reason
from service.agronomy.tables import Library
from service.desk.callers import LOCAL, Caller
from service.desk.office import Office
from service.store.classes import ReleaseClass

RELEASE, SHADOW, PAUSED = "release", "shadow", "paused"
MODES = (SHADOW, RELEASE, PAUSED)
ALL = "all"
"""The switch for every class at once."""
NO_CROP = "no_crop"
"""The group of reports without a crop."""
REREAD_PCT = 5.0
"""Share of unread reports that are drawn for re-reading, unless the class says otherwise: common practice."""


SIGNED_DAYS = 365
"""A class is let out for a year and then falls back to the shadow, unless it is signed again: common practice."""
SIGN_AGAIN_DAYS = 60
"""So long before its end a class may be asked for again."""


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


def first_share(caller: Caller) -> float:
    """The re-reading share of a class that nobody has set: none where nobody sits at the desk."""
    return 0.0 if caller.kind == LOCAL or caller.sandbox else REREAD_PCT


def gate_of(caller: Caller, office: Office, crop_group: str) -> Gate:
    """The switch as it stands now, read from the database for every report; without one nothing was ever switched."""
    name = class_id(crop_group, caller.organization)
    if office.store is None:
        return Gate(name, crop_group, RELEASE, 0.0)
    with office.store.reading() as reading:
        set_by_hand = reading.classes.some((ALL, name))
    own = set_by_hand.get(name)
    own = acting(own, office.now()) if own else None
    stopped = ALL in set_by_hand and set_by_hand[ALL].mode == PAUSED
    mode = PAUSED if stopped else own.mode if own else first_mode(caller)
    share = own.reread_pct if own and own.reread_pct is not None else first_share(caller)
    return Gate(name, crop_group, mode, share)


def signed_until(switch: ReleaseClass) -> datetime | None:
    """When a class that goes out unread falls back to the shadow; None for one that does not, or was never set."""
    if switch.mode != RELEASE or switch.id == ALL or not switch.changed_at:
        return None
    return datetime.fromisoformat(switch.changed_at) + timedelta(days=SIGNED_DAYS)


def acting(switch: ReleaseClass, now: datetime) -> ReleaseClass:
    """The switch as it acts now: what was let out more than a year ago stands in the shadow."""
    until = signed_until(switch)
    return switch._replace(mode=SHADOW) if until is not None and now >= until else switch


def near_end(switch: ReleaseClass, now: datetime) -> bool:
    """Whether a class that goes out unread may be signed for one more year."""
    until = signed_until(switch)
    return until is not None and now >= until - timedelta(days=SIGN_AGAIN_DAYS)


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
