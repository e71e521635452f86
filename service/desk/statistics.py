"""Counts for the programme: by office and month, and by county with small cells hidden. How: DEVELOPERS.md."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any, NamedTuple

from service.desk.callers import Caller
from service.desk.office import Office
from service.store.statistics import Counted, Holds, Wait

FEWEST = 10
"""A cell of fewer clients, or fewer reports, is not shown where figures leave the office: common practice."""
GIVEN = ("released", "partial")
FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")
"""A spreadsheet takes a cell that begins so for a formula (OWASP, CSV Injection)."""


class Line(NamedTuple):
    """One office in one month; waits in days from receipt to the first report given out."""

    organization: str
    month: str
    reports: int
    corrections: int
    outcomes: dict[str, int]
    released_unread: int
    share_unread: float | None
    waited: int
    median_days: float | None
    p90_days: float | None
    holds: dict[str, int]


class County(NamedTuple):
    """One county in one year; everything is None where it is too small to be shown."""

    county: str
    reports: int | None
    median_days: float | None
    p90_days: float | None
    hidden: bool


def by_month(caller: Caller, office: Office, first: str, last: str, organization: str | None = None) -> list[Line]:
    """Offices in sight and months from the day ``first`` to the day ``last``, ISO dates, in order."""
    owner = organization if caller.sees_all else caller.organization
    with office.records.reading() as reading:
        counted = reading.statistics.counts(first, last, owner)
        waits = list(reading.statistics.waits(first, last, owner))
        holds = reading.statistics.holds(first, last, owner)
    parts = (_grouped(counted), _grouped(waits), _grouped(holds))
    keys = sorted({key for part in parts for key in part})
    return [_line(key, *(part[key] for part in parts)) for key in keys]


def by_county(office: Office, year: int) -> list[County]:
    """Every county of the programme in one calendar year; years do not overlap, so no difference shows a client."""
    first, last = f"{year}-01-01", f"{year}-12-31"
    with office.records.reading() as reading:
        pools = reading.statistics.pools(first, last)
        waits = defaultdict[str | None, list[float]](list)
        for wait in reading.statistics.waits(first, last, None):
            waits[wait.county].append(days(wait))
    found = []
    for pool in pools:
        hidden = min(pool.reports, pool.clients) < FEWEST
        told = waits[pool.county] if not hidden and len(waits[pool.county]) >= FEWEST else []
        found.append(
            County(pool.county, None if hidden else pool.reports, quantile(told, 0.5), quantile(told, 0.9), hidden)
        )
    return found


def days(wait: Wait) -> float:
    """Days from receipt to release; whole ones where only the day of receipt is known. Never below zero."""
    issued = datetime.fromisoformat(wait.issued_at)
    if len(wait.received_at) == len("2026-01-01"):
        return float(max((issued.date() - date.fromisoformat(wait.received_at)).days, 0))
    waited = issued - datetime.fromisoformat(wait.received_at)
    return max(waited.total_seconds() / 86400, 0.0)


def quantile(values: Sequence[float], share: float) -> float | None:
    """The value below which a share lies, between neighbours in proportion; None of none.

    Hyndman and Fan (1996), The American Statistician 50, definition 7.
    """
    if not values:
        return None
    ordered = sorted(values)
    position = share * (len(ordered) - 1)
    below = int(position)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (ordered[above] - ordered[below]) * (position - below)


def _grouped(rows: Iterable[Any]) -> defaultdict[tuple[str, str], list[Any]]:
    found = defaultdict[tuple[str, str], list[Any]](list)
    for row in rows:
        found[row[:2]].append(row)
    return found


def _line(key: tuple[str, str], counted: list[Counted], waits: list[Wait], holds: list[Holds]) -> Line:
    outcomes = dict.fromkeys((*GIVEN, "held", "refused"), 0)
    for row in counted:
        outcomes[row.outcome] += row.reports
    given = sum(outcomes[outcome] for outcome in GIVEN)
    unread = sum(row.reports for row in counted if row.outcome in GIVEN and row.released_by == "rules")
    waited = [days(wait) for wait in waits]
    return Line(
        *key,
        reports=sum(outcomes.values()),
        corrections=sum(row.corrections for row in counted),
        outcomes=outcomes,
        released_unread=unread,
        share_unread=unread / given if given else None,
        waited=len(waited),
        median_days=quantile(waited, 0.5),
        p90_days=quantile(waited, 0.9),
        holds={row.code: row.cases for row in sorted(holds, key=lambda row: row.code)},
    )


def table(lines: Sequence[Line]) -> list[list[Any]]:
    """The same as rows of a spreadsheet, the first one the heads; each reason to hold has a column."""
    codes = sorted({code for line in lines for code in line.holds})
    plain = [name for name in Line._fields if name not in ("outcomes", "holds")]
    outcomes = (*GIVEN, "held", "refused")
    heads = [*plain, *outcomes, *(f"hold:{code}" for code in codes)]
    return [heads, *([*_plain(line, plain), *_counts(line, outcomes, codes)] for line in lines)]


def _plain(line: Line, names: Sequence[str]) -> list[Any]:
    return [getattr(line, name) for name in names]


def _counts(line: Line, outcomes: Sequence[str], codes: Sequence[str]) -> list[int]:
    return [*(line.outcomes[name] for name in outcomes), *(line.holds.get(code, 0) for code in codes)]


def harmless(cell: Any) -> Any:
    """A cell that no spreadsheet takes for a formula: texts that begin like one get an apostrophe in front."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA_SIGNS) else cell
