"""When a season's rate is given: the windows of the schedules that a crop's rates name, in words."""

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from babel.dates import format_skeleton

from service.agronomy.findings import Word
from service.agronomy.submission import Quantity
from service.agronomy.tables import AmountRow, Library, ScheduleRow
from service.pages.ladders import Warrant, said, warrant
from service.render.words import Words

SCHEDULES = "nitrogen-schedules"
LEAP_YEAR = 2024
"""A year that holds every day of the calendar."""


class Window(NamedTuple):
    """One window: its name, its days, its share of the season's rate, for whom it holds."""

    name: str
    days: str
    share: str
    holds: tuple[str, ...]
    warrant: Warrant


class Season(NamedTuple):
    """One schedule and the nutrients that go by it."""

    nutrients: str
    windows: tuple[Window, ...]


def rows_of(amounts: Iterable[AmountRow], library: Library) -> dict[str, tuple[ScheduleRow, ...]]:
    """The rows of every schedule that these rates name, in the order of the rates."""
    named = dict.fromkeys(row.schedule for row in amounts if row.schedule)
    rows = library.rows(SCHEDULES, ScheduleRow)
    return {name: tuple(row for row in rows if row.schedule == name) for name in named}


def seasons(amounts: Iterable[AmountRow], library: Library, words: Words) -> tuple[Season, ...]:
    """Schedules with the same windows are one."""
    listed = tuple(amounts)
    fed: dict[tuple[Window, ...], list[str]] = {}
    for name, rows in rows_of(listed, library).items():
        windows = tuple(_window(row, words) for row in sorted(rows, key=_variant))
        nutrients = [words.word("subject", row.nutrient) for row in listed if row.schedule == name]
        fed.setdefault(windows, []).extend(nutrients)
    return tuple(Season(words.listing(tuple(dict.fromkeys(names))), windows) for windows, names in fed.items())


def _variant(row: ScheduleRow) -> tuple[bool, tuple[str, ...], bool, tuple[str, ...], int]:
    """Rows for everybody first, then those for zones and stages."""
    return bool(row.zones), row.zones, bool(row.stages), row.stages, row.order


def _window(row: ScheduleRow, words: Words) -> Window:
    name = words.text(f"when.{row.when}", {"month": Word("month", str(row.from_month))})
    ends = (_day(row.from_month, row.from_day, words), _day(row.to_month, row.to_day, words))
    days = words.text("page.library.timing.days", dict(zip(("first", "last"), ends, strict=True)))
    share = words.quantity(Quantity(float(round(row.share * 100)), "%"))
    return Window(name, days, share, tuple(_holds(row, words)), warrant(row))


def _day(month: int, day: int, words: Words) -> str:
    return format_skeleton("MMMMd", date(LEAP_YEAR, month, day), locale=words.locale)


def _holds(row: ScheduleRow, words: Words) -> Iterable[str]:
    if row.zones:
        yield words.text("page.library.timing.zones", {"zones": words.listing(row.zones)})
    if row.stages:
        yield words.text(
            "page.library.rate.or", {"words": ", ".join(said(words, "stage", word) for word in row.stages)}
        )
    if row.condition:
        code = f"page.library.condition.{row.condition}"
        yield words.text(code) if words.has(code) else row.condition.replace("_", " ")
