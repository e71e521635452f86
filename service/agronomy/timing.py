"""When to give a season's rate: the windows of a schedule that are still open, split into doses under the cap.

A window that has passed is not made up for: its share is left out. When every window has passed, the plan is the
next season's. Dates are those of the northern hemisphere.
"""

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from itertools import groupby, takewhile
from math import ceil
from typing import NamedTuple

from service.agronomy.doses import Setting
from service.agronomy.findings import Application, Note
from service.agronomy.reference import Cap, reference_of
from service.agronomy.tables import FactorRow, Library, Row, ScheduleRow
from service.agronomy.units import scaled

HEAT = "heat"
HEAT_SCHEDULE = "cool_season_heat"
BEFORE_PLANTING = "before_planting"
GROWING = frozenset(("young", "established", "bearing"))
ONE_DAY = timedelta(days=1)

type_of_schedules = Mapping[str, tuple[ScheduleRow, ...]]


class Window(NamedTuple):
    """One open window: its row and the days that remain of it."""

    row: ScheduleRow
    start: date
    end: date


class Portion(NamedTuple):
    """One dose: the window's name, the rate in base units, the days, and the cap it keeps."""

    row: ScheduleRow
    rate: float
    start: date
    end: date
    cap: Cap | None


class Plan(NamedTuple):
    """The doses of the season in play, whether the whole season lies ahead, and the rows behind them."""

    portions: tuple[Portion, ...]
    whole: bool
    rows: tuple[Row, ...]

    @property
    def total(self) -> float:
        """The rate of all doses together, in base units."""
        return sum(portion.rate for portion in self.portions)


def prepare_schedules(library: Library) -> type_of_schedules:
    """Read ``nitrogen-schedules`` by schedule, in order."""
    rows = sorted(library.rows("nitrogen-schedules", ScheduleRow), key=lambda row: (row.schedule, row.order))
    return {name: tuple(group) for name, group in groupby(rows, key=lambda row: row.schedule)}


def plan(
    setting: Setting, schedule: str, season_rate: float, caps: Iterable[Cap] = (), wait: timedelta | None = None
) -> Plan:
    """Spread a season's rate over the windows of a schedule that remain on the day asked for.

    Args:
        schedule: id of ``nitrogen-schedules``. season_rate: g/m2 or g/tree for the whole season.
        caps: caps per application that may hold, the lowest first; none for rates per tree.
        wait: time to let pass first, because the ground was fed lately.

    A window that lies in the heat is trimmed to the days outside it, or kept at the heat cap where none remain.
    """
    rows = _rows(setting, schedule)
    today = setting.case.as_of + (wait or timedelta())
    ahead = _open(rows, today, today)
    windows = ahead or _open(rows, date(today.year + 1, 1, 1), date(today.year + 1, 1, 1))
    heat = _heat(setting)
    usable = [cap for cap in caps if cap_holds(setting, cap)]
    portions: list[Portion] = []
    for window in windows:
        cooler, hot = _out_of_heat(window, heat)
        cap = _lowest(usable, hot)
        portions.extend(_split(setting, cooler, season_rate * window.row.share, cap))
    whole = len(windows) == len(rows)
    return Plan(tuple(portions), whole, tuple(window.row for window in windows))


def _rows(setting: Setting, schedule: str) -> tuple[ScheduleRow, ...]:
    """The rows of a schedule for this hardiness zone, stage and soil."""
    rows = setting.case.library.index(prepare_schedules).get(schedule, ())
    zone = "".join(takewhile(str.isdigit, setting.case.submission.site.zone or ""))
    zoned = [row for row in rows if zone in row.zones]
    here = zoned or [row for row in rows if not row.zones]
    return tuple(row for row in here if _fits(setting, row))


def _fits(setting: Setting, row: ScheduleRow) -> bool:
    if row.stages and setting.stage not in row.stages:
        return False
    if row.when == BEFORE_PLANTING and setting.stage in GROWING:
        return False
    return row.condition == "" or setting.holds(row.condition)


def _open(rows: Iterable[ScheduleRow], today: date, from_day: date) -> list[Window]:
    """Windows that end on or after a day, of the year of that day (or begun in the year before), in time order."""
    found = []
    for row in rows:
        for year in (today.year - 1, today.year):
            start = date(year, row.from_month, row.from_day)
            end = date(year, row.to_month, row.to_day)
            if end < start:
                end = end.replace(year=year + 1)
            if end >= from_day and (year == today.year or end.year == today.year):
                found.append(Window(row, max(start, from_day), end))
                break
    return sorted(found, key=lambda window: window.start)


def _heat(setting: Setting) -> tuple[ScheduleRow, ...]:
    if not {"cool_season", "turf"} <= setting.crop.traits:
        return ()
    return _rows(setting, HEAT_SCHEDULE)


def _out_of_heat(window: Window, heat: tuple[ScheduleRow, ...]) -> tuple[Window, bool]:
    """The part of a window outside the hot weeks; the window itself, marked hot, when it lies wholly within."""
    for row in heat:
        begins = date(window.start.year, row.from_month, row.from_day)
        ends = date(window.start.year, row.to_month, row.to_day)
        if window.end < begins or window.start > ends:
            continue
        if window.start < begins:
            return window._replace(end=begins - ONE_DAY), False
        if window.end > ends:
            return window._replace(start=ends + ONE_DAY), False
        return window, True
    return window, False


def in_heat(setting: Setting) -> bool:
    """Whether the day asked for lies in the hot weeks of cool-season turf."""
    today = setting.case.as_of
    month_day = (today.month, today.day)
    return any((row.from_month, row.from_day) <= month_day <= (row.to_month, row.to_day) for row in _heat(setting))


def caps_on(setting: Setting, subject: str) -> tuple[Cap, ...]:
    """Caps per application on a nutrient for this kind of target, the lowest first."""
    return tuple(cap for cap in reference_of(setting.case.library).caps(subject) if _meant_for(setting, cap))


def _meant_for(setting: Setting, cap: Cap) -> bool:
    row, crop = cap.row, setting.crop
    use = setting.case.submission.target.condition.use
    if row.uses and not {crop.kind, crop.group, crop.id, use, *crop.traits} & set(row.uses):
        return False
    return not row.stages or setting.stage in row.stages


def cap_holds(setting: Setting, cap: Cap) -> bool:
    """Whether the condition of a cap is met; the heat is judged window by window."""
    return cap.row.when in ("", HEAT) or setting.holds(cap.row.when)


def _lowest(caps: Iterable[Cap], hot: bool) -> Cap | None:
    return next((cap for cap in caps if hot or cap.row.when != HEAT), None)


def _split(setting: Setting, window: Window, rate: float, cap: Cap | None) -> list[Portion]:
    """Equal doses no larger than the cap; what does not fit into the window at the usual interval is left out."""
    if rate <= 0.0:
        return []
    if cap is None or scaled(rate) <= scaled(cap.g_m2):
        return [Portion(window.row, rate, window.start, window.end, cap)]
    interval = split_interval(setting.case.library).value
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


def applications(setting: Setting, portions: Iterable[Portion], base: str) -> tuple[Application, ...]:
    """The doses in the client's units, rounded once."""
    units = setting.case.units
    show = units.rate if base == "g/m2" else units.per_tree
    return tuple(
        Application(
            Note(f"when.{portion.row.when}"),
            show(portion.rate),
            None if portion.cap is None else _limit(setting, portion.cap),
            portion.start,
            portion.end,
        )
        for portion in portions
    )


def _limit(setting: Setting, cap: Cap) -> Note:
    return Note(f"limit.{cap.row.when or 'single_dose'}", {"maximum": setting.case.units.rate(cap.g_m2)})
