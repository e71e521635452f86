"""Joining a laboratory's results with the form of the counter: who wins on what, and what contradicts.

The form knows the place, the use, what grows there and what was done to the ground; the laboratory knows the figures
and how the sample looked when it came. What only one of them says is taken from it; where they differ the one who knows
wins, and it is told.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

import orjson

from service.agronomy.findings import Reason, Word

type_of_json = dict[str, Any]

LABORATORY_WINS = (
    "laboratory",
    "lab_number",
    "revision",
    "received_on",
    "container",
    "handling",
    "material",
    "comment",
)
"""Members of ``sample`` that whoever received it knows."""


class Conflict(NamedTuple):
    """One member on which form and laboratory differ.

    ``pointer`` is where it stands in the joined submission; ``form`` and ``laboratory`` what each said, as text;
    ``taken`` whose word counts.
    """

    pointer: str
    form: str
    laboratory: str
    taken: str


class Joined(NamedTuple):
    """The submission as it is interpreted, and what contradicted."""

    document: type_of_json
    conflicts: tuple[Conflict, ...]


def join(form: Mapping[str, Any], sent: Mapping[str, Any]) -> Joined:
    """One submission of a form (``sample``, ``target``, ``site``, ``options``) and a laboratory's submission.

    Results are the laboratory's alone. ``target`` and ``site`` are the form's, member by member; options are the
    form's, because the reader is its client. Members that are null or missing say nothing.
    """
    conflicts: list[Conflict] = []
    sample = _merged("/sample", _part(form, "sample"), _part(sent, "sample"), LABORATORY_WINS, conflicts)
    document = {
        **sent,
        "sample": sample,
        "target": _merged("/target", _part(form, "target"), _part(sent, "target"), (), conflicts),
        "site": _merged("/site", _part(form, "site"), _part(sent, "site"), (), conflicts),
        "options": {**_part(sent, "options"), **_said(_part(form, "options"))},
    }
    return Joined({name: value for name, value in document.items() if value != {}}, tuple(conflicts))


def _merged(
    pointer: str, form: type_of_json, sent: type_of_json, laboratory_wins: tuple[str, ...], conflicts: list[Conflict]
) -> type_of_json:
    ours, theirs = _said(form), _said(sent)
    merged = dict(theirs)
    for name, value in ours.items():
        other = theirs.get(name)
        wins = name in laboratory_wins and other is not None
        if other is not None and other != value:
            taken = "laboratory" if wins else "form"
            conflicts.append(Conflict(f"{pointer}/{name}", _text(value), _text(other), taken))
        if not wins:
            merged[name] = value
    return merged


def told(conflict: Conflict) -> Reason:
    """A contradiction as a reason: told, and no ground to hold the report."""
    values = {"form": conflict.form, "laboratory": conflict.laboratory, "taken": Word("origin", conflict.taken)}
    values["field"] = conflict.pointer.rpartition("/")[2]
    return Reason("joined_conflict", "warning", None, values, None, conflict.pointer)


def _text(value: Any) -> str:
    return value if isinstance(value, str) else orjson.dumps(value).decode()


def _said(part: Mapping[str, Any]) -> type_of_json:
    """What a part says: neither null nor empty."""
    return {name: value for name, value in part.items() if value not in (None, "", [], {})}


def _part(document: Mapping[str, Any], name: str) -> type_of_json:
    part = document.get(name)
    return part if isinstance(part, dict) else {}
