"""What every row of every table carries, and how verification marks combine."""

from collections.abc import Iterable
from dataclasses import dataclass

from service.agronomy.findings import EditionRef

NO_TABLE = EditionRef("", "", "")
VERIFICATION_ORDER = ("read", "computed", "practice", "memory")


def weakest(marks: Iterable[str]) -> str | None:
    """The weakest of several verification marks (``read`` > ``computed`` > ``practice`` > ``memory``)."""
    known = [VERIFICATION_ORDER.index(mark) for mark in marks if mark]
    return VERIFICATION_ORDER[max(known)] if known else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What every row carries. ``table`` and ``line`` are filled in by the loader, not by the file."""

    sources: tuple[str, ...]
    place: str = ""
    verification: str
    note: str = ""
    table: EditionRef = NO_TABLE
    line: int = 0
