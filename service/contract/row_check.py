"""The body of a check against print: what somebody found about one row of a table."""

from dataclasses import dataclass
from datetime import date

from service.contract.fields import Day, Items, Part, Text, Whole
from service.contract.shape import Shape

LAST_LINE = 1_000_000
MOST_CORRECTIONS = 40


@dataclass(frozen=True, slots=True)
class Correction:
    """One cell that print has otherwise."""

    column: str
    value: str = ""


@dataclass(frozen=True, slots=True)
class RowCheck:
    """What was found; no correction: the row stands as printed. ``on``: the day of reading, today if absent."""

    line: int
    by: str
    copy: str
    on: date | None = None
    note: str = ""
    corrections: tuple[Correction, ...] = ()


class CorrectionSchema(Shape):
    """One cell that print has otherwise; a blank value empties it."""

    makes = Correction
    column = Text(required=True, longest=60)
    value = Text(blank=True)


class RowCheckRequestSchema(Shape):
    """What somebody found in print about one row of the newest edition."""

    makes = RowCheck
    line = Whole(required=True, low=2, high=LAST_LINE, metadata={"description": "Line of the edition's file."})
    by = Text(required=True, longest=80, metadata={"description": "Who read it."})
    copy = Text(required=True, metadata={"description": "In which copy: print run, library, page."})
    on = Day(metadata={"description": "The day of reading; today when absent."})
    note = Text(blank=True)
    corrections = Items(
        Part(CorrectionSchema),
        most=MOST_CORRECTIONS,
        metadata={"description": "Cells that print has otherwise; none: the row stands as printed."},
    )
