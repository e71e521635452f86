"""When to give a season's rate: the windows of a schedule that are still open, split into doses under the cap.

A schedule is a cycle in the order of its rows: winter wheat begins in August and ends in May. A window that has
passed is not made up for: its share is left out. When every window has passed, the plan is the next cycle's. Windows
that each hold the whole rate are alternatives: the next one takes it. Dates are those of the northern hemisphere.
"""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from math import ceil
from typing import NamedTuple

from service.agronomy.findings import Application, Note, Word
from service.agronomy.reference import Cap, reference_of
from service.agronomy.sample import Case
from service.agronomy.setting import HEAT, Setting
from service.agronomy.submission import Quantity
from service.agronomy.tables import FactorRow, Library, ScheduleRow
from service.agronomy.units import scaled

HEAT_SCHEDULE = "cool_season_heat"
PUTTING_GREEN = "putting_green"
AT_SEEDING, UP_FOR_WEEKS = "at_seeding", "weeks_after_emergence"
ONE_DAY = timedelta(days=1)
DAYS_PER_WEEK = 7


class Window(NamedTuple):
    """One open window: its row, the days that remain of it, and whether they all lie in the heat."""

    row: ScheduleRow
    start: date
    end: date
    hot: bool = False


class Ahead(NamedTuple):
    """The windows of a schedule that remain on a day, whether none has passed, and whether they are next year's."""

    windows: tuple[Window, ...]
    whole: bool
    later: bool = False


class Portion(NamedTuple):
    """One dose: the window's row, the rate in base units, the days, the cap it keeps, and whether it must wait for
    the dose before, because both at once would pass that cap."""

    row: ScheduleRow
    rate: float
    start: date
    end: date
    cap: Cap | None
    apart: bool = False


class Plan(NamedTuple):
    """The doses of the season in play, whether none of its windows has passed, and whether it is next year's."""

    portions: tuple[Portion, ...]
    whole: bool
    later: bool = False


def plan(
    setting: Setting,
    schedule: str,
    season_rate: float,
    caps: Sequence[Cap],
    today: date,
    least: float = 0.0,
    made_up: bool = False,
) -> Plan:
    """Spread a season's rate over the windows of a schedule that remain from a day on.

    Args:
        schedule: id of ``nitrogen-schedules``. season_rate: g/m2 or g/tree for the whole season.
        caps: caps per application that hold, the lowest first; none for rates per tree.
        least: a dose below this is given together with the next one.
        made_up: the windows that remain take the whole rate: what builds up the soil is late, not lost.

    A window that lies in the heat is trimmed to the days outside it, or kept at the heat cap where none remain.
    """
    ahead = setting.windows.get((schedule, today))
    if ahead is None:
        ahead = _ahead(setting, schedule, today)
        setting.keep_windows(schedule, today, ahead)
    lowest = next(iter(caps), None)
    usual = next((cap for cap in caps if cap.row.when != HEAT), None)
    if made_up and ahead.windows:
        season_rate /= sum(window.row.share for window in ahead.windows)
    portions: list[Portion] = []
    for window, rate in _merged(ahead.windows, season_rate, least):
        cap = lowest if window.hot else usual
        if cap is None or scaled(rate) <= scaled(cap.g_m2):
            portions.append(Portion(window.row, rate, window.start, window.end, cap))
        else:
            portions.extend(_split(setting.library, window, rate, cap))
    return Plan(_spaced(setting.library, portions), ahead.whole, ahead.later)


def _spaced(library: Library, portions: Sequence[Portion]) -> tuple[Portion, ...]:
    """The doses with the days between their windows that keep two of them from being one above the cap.

    Windows of a publisher keep most of their days: each gives up only so many, by what it has to spare, that no two
    doses fall in one fortnight. The words say how long to wait. Seedlings have their own: weeks after they are up.
    """
    found = list(portions[:1])
    for after in portions[1:]:
        before = found[-1]
        waits = after.row.when == UP_FOR_WEEKS
        if waits or after.cap is None or scaled(before.rate + after.rate) <= scaled(after.cap.g_m2):
            found.append(after)
            continue
        off, on = _spared(library, before, after)
        found[-1] = before._replace(end=before.end - timedelta(days=off))
        found.append(after._replace(start=after.start + timedelta(days=on), apart=True))
    return tuple(found)


def _spared(library: Library, before: Portion, after: Portion) -> tuple[int, int]:
    """How many days the end of one window and the start of the next give up for the gap between them."""
    reference = reference_of(library)
    least = int(reference.factor("window_least_days").value)
    lack = int(reference.factor("window_gap_days").value) - (after.start - before.end).days
    early, late = (max((dose.end - dose.start).days + 1 - least, 0) for dose in (before, after))
    if lack <= 0 or early + late == 0:
        return 0, 0
    given = min(lack, early + late)
    off = min(round(given * early / (early + late)), early)
    return off, given - off


def _merged(windows: Sequence[Window], season_rate: float, least: float) -> list[tuple[Window, float]]:
    """Each window with its rate; a rate too small to spread by itself goes to the next window, or to the one before."""
    found: list[tuple[Window, float]] = []
    carried = 0.0
    for window in windows:
        rate = carried + season_rate * window.row.share
        if scaled(rate) < scaled(least):
            carried = rate
        else:
            found.append((window, rate))
            carried = 0.0
    if carried:
        window, rate = found.pop() if found else (windows[-1], 0.0)
        found.append((window, rate + carried))
    return found


def _ahead(setting: Setting, schedule: str, today: date) -> Ahead:
    """The windows that remain of the cycle in play; when none does, those of the next."""
    rows = setting.schedule(schedule)
    if not rows:
        return Ahead((), True)
    heat = _heat(setting)
    least = int(reference_of(setting.library).factor("window_least_days").value)
    cycles = _alternatives(rows)
    if len(cycles) > 1:
        found = _soonest(cycles, today, least)
        whole = True
    else:
        found = _remaining(rows, today, least)
        whole = len(found) == len(rows)
    later = bool(found) and whole and found[0].start.year > today.year
    return Ahead(_after_seeding(setting, [_out_of_heat(window, heat) for window in found], least), whole, later)


def _after_seeding(setting: Setting, windows: Sequence[Window], least: int) -> tuple[Window, ...]:
    """The windows with a feeding of seedlings counted from the first day on which they can be sown."""
    found: list[Window] = []
    sown: date | None = None
    for window in windows:
        if window.row.when == AT_SEEDING:
            sown = window.start
        elif window.row.when == UP_FOR_WEEKS and sown is not None:
            days = reference_of(setting.library).factor("seedlings_fed_days").value
            start = max(window.start, sown + timedelta(days=days))
            window = window._replace(start=start, end=max(window.end, start + timedelta(days=least - 1)))
        found.append(window)
    return tuple(found)


def _alternatives(rows: Iterable[ScheduleRow]) -> list[list[ScheduleRow]]:
    """The rows cut where their shares have made up a whole: each part holds the whole rate by itself."""
    found: list[list[ScheduleRow]] = [[]]
    share = 0.0
    for row in rows:
        if scaled(share) >= scaled(1.0):
            found.append([])
            share = 0.0
        found[-1].append(row)
        share += row.share
    return found


def _soonest(cycles: Iterable[Sequence[ScheduleRow]], today: date, least: int) -> list[Window]:
    """The windows of the alternative that begins first and can still be kept whole."""
    whole = [
        windows
        for rows in cycles
        for day in (today, date(today.year + 1, 1, 1))
        if len(windows := _remaining(rows, day, least)) == len(rows)
    ]
    return min(whole, key=lambda windows: windows[0].start, default=[])


def _remaining(rows: Sequence[ScheduleRow], today: date, least: int) -> list[Window]:
    """The windows of the first cycle that has days left, from a day on. A rest of a few days counts as passed."""
    for year in range(today.year - 1, today.year + 3):
        cycle = _cycle(rows, year)
        found = [_from(window, today) for window in cycle if window.end >= today]
        left = [window for window in found if (window.end - window.start).days + 1 >= least]
        if left:
            return left
    return []


def _cycle(rows: Iterable[ScheduleRow], year: int) -> list[Window]:
    """The windows of the cycle that begins in a year: one that would begin before its forerunner is a year later."""
    found: list[Window] = []
    for row in rows:
        start, end = date(year, row.from_month, row.from_day), date(year, row.to_month, row.to_day)
        if found and start < found[-1].start:
            start, end = start.replace(year=year + 1), end.replace(year=year + 1)
        if end < start:
            end = end.replace(year=end.year + 1)
        found.append(Window(row, start, end))
    return found


def _from(window: Window, today: date) -> Window:
    return window._replace(start=max(window.start, today))


def _heat(setting: Setting) -> tuple[ScheduleRow, ...]:
    """The hot weeks in which cool-season turf is fed little or nothing; a putting green is always fed little."""
    traits = setting.crop.traits
    if setting.crop.kind != "lawn" or "cool_season" not in traits or PUTTING_GREEN in traits:
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
    gap = int(dose_gap(library).value) - 1
    length = (days - gap * (fitting - 1)) // fitting
    starts = [window.start + timedelta(days=(length + gap) * place) for place in range(fitting)]
    ends = [*(start + timedelta(days=length - 1) for start in starts[:-1]), window.end]
    return [Portion(window.row, dose, start, end, cap) for start, end in zip(starts, ends, strict=True)]


def split_interval(library: Library) -> FactorRow:
    """The usual days between two doses."""
    return reference_of(library).factor("split_interval_days")


def dose_gap(library: Library) -> FactorRow:
    """The least days between two doses that together would pass a cap."""
    return reference_of(library).factor("dose_gap_days")


WORKED_IN = frozenset(("before_planting", "fall_worked_in", "before_seeding", "with_water", "with_water_again"))
"""Feeding times whose own words bring the dose into the ground; any other dose lies on it until it is watered."""


def applications(
    case: Case, portions: Iterable[Portion], rates: Iterable[Quantity], watering: tuple[Note, ...] = ()
) -> tuple[Application, ...]:
    """The doses with their rates as the client reads them, their days and the limit each keeps.

    ``watering`` goes with every dose that is left on the surface.
    """
    limits: dict[str, Note] = {}
    doses = []
    for (row, _, start, end, cap, apart), rate in zip(portions, rates, strict=True):
        limit = None
        if cap is not None:
            limit = limits.get(cap.row.limit)
            if limit is None:
                limit = limits[cap.row.limit] = _limit(case, cap)
            limit = _waiting(case, limit) if apart else limit
        how = () if row.when in WORKED_IN else watering
        doses.append(Application(_when(row, start), rate, limit, start, end, how))
    return tuple(doses)


MONTH = "month"


def _when(row: ScheduleRow, start: date) -> Note:
    """The name of a window; one that is named by its month says which."""
    if row.when.startswith(MONTH):
        return Note(f"when.{row.when}", {"month": Word("month", str(start.month))})
    return Note(f"when.{row.when}")


def _limit(case: Case, cap: Cap) -> Note:
    return Note(f"limit.{cap.row.when or 'single_dose'}", {"maximum": case.units.rate(cap.g_m2)})


def _waiting(case: Case, limit: Note) -> Note:
    """A limit on a dose with the weeks to wait for it, the least and the usual ones."""
    least, usual = dose_gap(case.library).value / DAYS_PER_WEEK, split_interval(case.library).value / DAYS_PER_WEEK
    return Note("limit.apart", {**limit.values, "limit": limit, "least": least, "usual": usual})
