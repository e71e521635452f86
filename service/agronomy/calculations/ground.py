"""What a product goes on: a surface, beds of one size, the ground under canopies, or trees counted one by one."""

from math import pi
from typing import NamedTuple

from service.agronomy.calculations.given import Given, WrongInput
from service.agronomy.findings import Note
from service.agronomy.materials.measures import household
from service.agronomy.submission import Quantity
from service.agronomy.tables import MaterialRow
from service.agronomy.units import GRAMS_PER_LB

RATES = ("rate", "per_tree", "per_trunk_inch")
SURFACES = ("area", "length", "canopy_diameter")
ONE_RATE = f"one of {', '.join(RATES)}"
ONE_SURFACE = "area, length and width, or canopy_diameter"
AREAL, PER_TREE = "areal_rate", "per_tree"


class Ground(NamedTuple):
    """Where a rate goes.

    Attributes:
        rate: the nutrient's rate as asked, g/m2, or g for one tree.
        size: m2, or number of trees. each: m2 under one canopy; None where no tree was spoken of.
        by_tree: whether rates are per tree.
    """

    rate: float
    size: float
    by_tree: bool
    each: float | None = None

    @property
    def dimension(self) -> str:
        """That of its rates."""
        return PER_TREE if self.by_tree else AREAL


def ground_of(given: Given) -> Ground:
    """The rate and what it is for. Raises WrongInput for none or two ways to say one thing."""
    if len([name for name in RATES if name in given]) != 1:
        raise WrongInput("rate", "one_way", ONE_RATE)
    count = given.get("count") or 1
    if "rate" not in given:
        return _trees(given, count)
    if "trunk_diameter" in given:
        raise WrongInput("trunk_diameter", "one_way", "only with per_trunk_inch")
    each = _surface(given)
    given.area_m2 = _treated_area(given, each, count)
    return Ground(given.g_m2("rate"), given.area_m2, by_tree=False, each=each if "canopy_diameter" in given else None)


def _treated_area(given: Given, each: float, count: int) -> float:
    """All of it, m2 = count x one surface."""
    area = each * count
    if "area" not in given or count > 1:
        given.step("treated_area", "treated_area", {"each": each, "count": count}, area, "m2")
    return area


def _surface(given: Given) -> float:
    """One surface, m2: as sent, a bed by length x width, or a canopy as a circle, pi/4 x diameter squared."""
    if len([name for name in SURFACES if name in given]) != 1:
        raise WrongInput("area", "one_way", ONE_SURFACE)
    if "area" in given:
        return given.units.square_metres(given["area"])
    if "canopy_diameter" in given:
        return pi / 4 * _metres(given, "canopy_diameter") ** 2
    if "width" not in given:
        raise WrongInput("width", "missing", "the width of the bed, with its unit")
    return _metres(given, "length") * _metres(given, "width")


def _metres(given: Given, name: str) -> float:
    return given.mm(name) / 1000


def _trees(given: Given, count: int) -> Ground:
    """Trees dosed one by one, by the tree or by the inch of trunk."""
    for name in (*SURFACES, "width"):
        if name in given:
            raise WrongInput(name, "one_way", "no surface where the rate is for a tree")
    by_trunk = "per_trunk_inch" in given
    dose = given["per_trunk_inch" if by_trunk else "per_tree"]
    given.system = "us_garden" if "[" in given.units.ucum(dose.unit) else "metric"
    grams = given.units.convert(dose.value, dose.unit, "g/tree")
    if by_trunk != ("trunk_diameter" in given):
        raise WrongInput("trunk_diameter", "missing" if by_trunk else "one_way", "trunk_diameter with per_trunk_inch")
    return Ground(_tree_dose(given, dose, grams) if by_trunk else grams, float(count), by_tree=True)


def _tree_dose(given: Given, dose: Quantity, grams: float) -> float:
    """Dose of one tree, g = dose for an inch of trunk x inches of trunk."""
    inches = given.inches("trunk_diameter")
    grams *= inches
    given.step("tree_dose", "tree_dose", {"each": dose, "trunk": inches}, grams, "g/tree")
    return grams


def rate_shown(given: Given, ground: Ground, base: float) -> Quantity:
    """A rate as the client reads it: per area, or for one tree in oz, lb or g."""
    if not ground.by_tree:
        return given.rate(base)
    if given.system == "metric":
        return given.in_unit(base, "g/tree", "g/tree")
    return given.in_unit(base, "g/tree", "lb/tree" if base >= GRAMS_PER_LB else "oz/tree")


def mass_shown(given: Given, grams: float) -> Quantity:
    """A weight, lb or kg."""
    return given.in_unit(grams, "g", "kg" if given.system == "metric" else "lb")


def measured(given: Given, row: MaterialRow | None, grams: float) -> Note | None:
    """The weight in kitchen measures, where that can be said."""
    return household(row, grams, given.system)
