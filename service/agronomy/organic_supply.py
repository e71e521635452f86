"""What manure and compost bring: total N, P2O5 and K2O, and the part of the N that plants get in the first season."""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy.errors import UnitMismatch, UnknownUnit
from service.agronomy.sample import Case
from service.agronomy.submission import OrganicInput
from service.agronomy.tables import Library, OrganicRow, Row
from service.agronomy.units import Units

POUNDS_PER_TON = 2000.0
PER_TON, PERCENT = "lb_per_ton", "pct"
NUTRIENTS = ("N", "P2O5", "K2O")

type_of_properties = Mapping[tuple[str, str], OrganicRow]


def prepare_organics(library: Library) -> type_of_properties:
    """Read ``organic-inputs``: the first row of each material and property stands for it."""
    found: dict[tuple[str, str], OrganicRow] = {}
    for row in library.rows("organic-inputs", OrganicRow):
        found.setdefault((row.material, row.property), row)
    return found


def available_nitrogen(
    total: float, ammonium: float, nitrate: float, organic_factor: float, ammonium_kept: float
) -> float:
    """Plant-available N of a manure in its first year, in the unit of the inputs.

    (total - ammonium - nitrate) * organic_factor + ammonium * ammonium_kept + nitrate. Montana State worksheet
    (S-MSU-MANURE), where the factor is 0.25 and 0.66 of the ammonium is kept.

    >>> round(available_nitrogen(21, 8, 0, 0.25, 0.66), 2)
    8.53
    """
    return (total - ammonium - nitrate) * organic_factor + ammonium * ammonium_kept + nitrate


class Supply(NamedTuple):
    """What one input brings, g/m2; ``None`` where no analysis of it was published."""

    material: str
    N: float | None
    N_first_season: float | None
    P2O5: float | None
    K2O: float | None
    rows: tuple[Row, ...]


def supply(case: Case, item: OrganicInput) -> Supply | None:
    """The nutrients in an input whose amount is a mass per area; ``None`` when it was given by depth or not at all.

    Share of each nutrient by the published analysis (lb per ton, else percent, as is). The share of the N that becomes
    available in the season is the material's own, else the share of organic N that the manure releases in its year.
    """
    mass = _mass(case, item)
    if mass is None:
        return None
    table = case.library.index(prepare_organics)
    rows: list[Row] = []
    shares = {nutrient: share_of(table, item.material, nutrient, rows) for nutrient in NUTRIENTS}
    available = table.get((item.material, "N_available_pct")) or table.get((item.material, "organic_N_release_pct"))
    total = None if shares["N"] is None else mass * shares["N"]
    first = None
    if total is not None and available is not None:
        first = total * available.value / 100.0
        rows.append(available)
    phosphate = None if shares["P2O5"] is None else mass * shares["P2O5"]
    potash = None if shares["K2O"] is None else mass * shares["K2O"]
    return Supply(item.material, total, first, phosphate, potash, tuple(rows))


def _mass(case: Case, item: OrganicInput) -> float | None:
    if item.amount is None:
        return None
    try:
        return case.library.index(Units.of).areal(item.amount)
    except (UnknownUnit, UnitMismatch):
        return None


def share_of(table: type_of_properties, material: str, nutrient: str, rows: list[Row]) -> float | None:
    """Mass fraction of a nutrient in a material as spread, by lb per ton, else by percent; its row goes to ``rows``."""
    per_ton = table.get((material, f"{nutrient}_{PER_TON}"))
    if per_ton is not None:
        rows.append(per_ton)
        return per_ton.value / POUNDS_PER_TON
    percent = table.get((material, f"{nutrient}_{PERCENT}"))
    if percent is None:
        return None
    rows.append(percent)
    return percent.value / 100.0
