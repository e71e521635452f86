"""When to give a season's rate: the windows of a schedule that are still open, split into doses under the cap.

A window that has passed is not made up for: its share is left out. When every window has passed, the plan is the
next season's. Dates are those of the northern hemisphere.
"""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from math import ceil
from typing import NamedTuple

from service.agronomy.findings import Application, Note
from service.agronomy.reference import Cap, reference_of
from service.agronomy.sample import Case
from service.agronomy.setting import HEAT, Setting
from service.agronomy.submission import Quantity
from service.agronomy.tables import FactorRow, Library, ScheduleRow
from service.agronomy.units import scaled

HEAT_SCHEDULE = "cool_season_heat"
ONE_DAY = timedelta(days=1)


class Window(NamedTuple):
    """One open window: its row, the days that remain of it, and whether they all lie in the heat."""

    row: ScheduleRow
    start: date
    end: date
    hot: bool = False


class Ahead(NamedTuple):
    """The windows of a schedule that remain on a day, and whether none has passed."""

    windows: tuple[Window, ...]
    whole: bool


class Portion(NamedTuple):
    """One dose: the window's row, the rate in base units, the days, and the cap it keeps."""

    row: ScheduleRow
    rate: float
    start: date
    end: date
    cap: Cap | None


class Plan(NamedTuple):
    """The doses of the season in play, and whether none of its windows has passed."""

    portions: tuple[Portion, ...]
    whole: bool


def plan(setting: Setting, schedule: str, season_rate: float, caps: Sequence[Cap], today: date) -> Plan:
    """Spread a season's rate over the windows of a schedule that remain from a day on.

    Args:
        schedule: id of ``nitrogen-schedules``. season_rate: g/m2 or g/tree for the whole season.
        caps: caps per application that hold, the lowest first; none for rates per tree.

    A window that lies in the heat is trimmed to the days outside it, or kept at the heat cap where none remain.
    """
    ahead = setting.windows.get((schedule, today))
    if ahead is None:
        ahead = _ahead(setting, schedule, today)
        setting.keep_windows(schedule, today, ahead)
    lowest = next(iter(caps), None)
    usual = next((cap for cap in caps if cap.row.when != HEAT), None)
    portions: list[Portion] = []
    for window in ahead.windows:
        cap = lowest if window.hot else usual
        rate = season_rate * window.row.share
        if cap is None or scaled(rate) <= scaled(cap.g_m2):
            portions.append(Portion(window.row, rate, window.start, window.end, cap))
        else:
            portions.extend(_split(setting.library, window, rate, cap))
    return Plan(tuple(portions), ahead.whole)


def _ahead(setting: Setting, schedule: str, today: date) -> Ahead:
    """The windows that remain this season; when none does, those of the next."""
    rows = [row for row in setting.schedule(schedule) if row.share > 0.0]
    heat = _heat(setting)
    found = _open(rows, today) or _open(rows, date(today.year + 1, 1, 1))
    return Ahead(tuple(_out_of_heat(window, heat) for window in found), len(found) == len(rows))


def _open(rows: Iterable[ScheduleRow], today: date) -> list[Window]:
    """Windows of this year, or begun in the last one, that end on or after a day, in time order."""
    found = []
    for row in rows:
        for year in (today.year - 1, today.year):
            start = date(year, row.from_month, row.from_day)
            end = date(year, row.to_month, row.to_day)
            if end < start:
                end = end.replace(year=year + 1)
            if end >= today:
                found.append(Window(row, max(start, today), end))
                break
    return sorted(found, key=lambda window: window.start)


def _heat(setting: Setting) -> tuple[ScheduleRow, ...]:
    """The hot weeks in which cool-season turf is fed little or nothing."""
    if setting.crop.kind != "lawn" or "cool_season" not in setting.crop.traits:
        return ()
    return setting.schedule(HEAT_SCHEDULE)


def _out_of_heat(window: Window, heat: tuple[ScheduleRow, ...]) -> Window:
    """The part of a window outside the hot weeks; the window itself, marked hot, when it lies wholly within."""
    for row in heat:
        begins = date(window.start.year, row.from_month, row.from_day)
        ends = date(window.start.year, row.to_month, row.to_day)
        if window.end < begins or window.start > ends:
            continue
        if window.start < begins:
            return window._replace(end=begins - ONE_DAY)
        if window.end > ends:
            return window._replace(start=ends + ONE_DAY)
        return window._replace(hot=True)
    return window


def in_heat(setting: Setting, today: date) -> bool:
    """Whether a day lies in the hot weeks of cool-season turf."""
    month_day = (today.month, today.day)
    return any((row.from_month, row.from_day) <= month_day <= (row.to_month, row.to_day) for row in _heat(setting))


def _split(library: Library, window: Window, rate: float, cap: Cap) -> list[Portion]:
    """Equal doses no larger than the cap; what does not fit into the window at the usual interval is left out."""
    interval = split_interval(library).value
    days = (window.end - window.start).days + 1
    wanted = ceil(rate / cap.g_m2)
    fitting = min(wanted, 1 + int((days - 1) // interval))
    dose = min(rate / wanted, cap.g_m2) if fitting == wanted else cap.g_m2
    length = days // fitting
    starts = [window.start + timedelta(days=length * place) for place in range(fitting)]
    ends = [*(start - ONE_DAY for start in starts[1:]), window.end]
    return [Portion(window.row, dose, start, end, cap) for start, end in zip(starts, ends, strict=True)]


def split_interval(library: Library) -> FactorRow:
    """The usual days between two doses."""
    return reference_of(library).factor("split_interval_days")


def applications(case: Case, portions: Iterable[Portion], areal: bool) -> tuple[Application, ...]:
    """The doses in the client's units, rounded once."""
    show = case.units.rate if areal else case.units.per_tree
    rates: dict[float, Quantity] = {}
    limits: dict[str, Note] = {}
    doses = []
    for row, rate, start, end, cap in portions:
        shown = rates.get(rate)
        if shown is None:
            shown = rates[rate] = show(rate)
        limit = None
        if cap is not None:
            limit = limits.get(cap.row.limit)
            if limit is None:
                limit = limits[cap.row.limit] = _limit(case, cap)
        doses.append(Application(Note(f"when.{row.when}"), shown, limit, start, end))
    return tuple(doses)


def _limit(case: Case, cap: Cap) -> Note:
    return Note(f"limit.{cap.row.when or 'single_dose'}", {"maximum": case.units.rate(cap.g_m2)})
