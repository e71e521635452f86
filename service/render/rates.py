"""A rate in another unit, for people: what an answer holds in two units is compared and told in one."""

from collections.abc import Mapping

from service.agronomy.submission import Quantity
from service.agronomy.units import GRAMS_PER_LB, SQUARE_METRES_PER_1000_FT2, SQUARE_METRES_PER_ACRE, significant

MASSES: Mapping[str, float] = {"lb": GRAMS_PER_LB, "oz": GRAMS_PER_LB / 16, "kg": 1000.0, "g": 1.0}
AREAS: Mapping[str, float] = {
    "100 ft2": SQUARE_METRES_PER_1000_FT2 / 10,
    "1000 ft2": SQUARE_METRES_PER_1000_FT2,
    "acre": SQUARE_METRES_PER_ACRE,
    "m2": 1.0,
    "ha": 10000.0,
}
METRIC = frozenset(("g/m2", "kg/ha", "g/tree", "kg/tree"))
TREE = "tree"


def in_unit(rate: Quantity, unit: str) -> Quantity | None:
    """A rate per area or per tree in another unit of its kind, exactly; ``None`` where there is no way between them."""
    (mass, _, per), (to_mass, _, to_per) = rate.unit.partition("/"), unit.partition("/")
    if mass not in MASSES or to_mass not in MASSES or (per == TREE) != (to_per == TREE):
        return None
    if per != TREE and (per not in AREAS or to_per not in AREAS):
        return None
    areas = 1.0 if per == TREE else AREAS[to_per] / AREAS[per]
    return Quantity(rate.value * MASSES[mass] / MASSES[to_mass] * areas, unit)


def also_metric(rate: Quantity, unit: str) -> Quantity | None:
    """A figure of a source in pounds in the metric unit of the answer, to three figures; ``None`` where it is that."""
    if unit not in METRIC or rate.unit in METRIC:
        return None
    found = in_unit(rate, unit)
    return None if found is None else Quantity(significant(found.value, 3), unit)
