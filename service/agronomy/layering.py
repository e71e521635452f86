"""Layers of a submission in inches, and the weight of soil that results per area are read with."""

from math import inf

from service.agronomy.errors import UnitMismatch, UnknownUnit
from service.agronomy.findings import Note, Reason, Word
from service.agronomy.measure import RESULTS, Layer, type_of_depth
from service.agronomy.reference import reference_of
from service.agronomy.sample import Measurement
from service.agronomy.submission import Depth, Quantity, Submission
from service.agronomy.tables import Library
from service.agronomy.units import Units
from service.agronomy.vocabulary import Entry

SAME_DEPTH_IN = 0.05
"""Two depths closer than this, inches, are one: a tolerance of writing (10 cm and 3.94 in), not of soil."""


class Layers:
    """The main layer, the others, and the bulk density: stated among the results, else the usual one.

    ``impossible`` holds the reasons for layers that cannot be, until `take` hands them over.
    """

    __slots__ = ("_stated", "_units", "_usual", "impossible", "main", "read_with_usual")

    def __init__(self, submission: Submission, units: Units, library: Library) -> None:
        self._units = units
        self.impossible: list[Reason] = []
        self._usual = reference_of(library).factor("soil_bulk_density_default")
        self._stated = _stated_density(submission, units)
        self.read_with_usual: dict[str, Word] = {}
        self.main = Layer(RESULTS, self._main_depth(submission), self._density, True)

    @property
    def _density(self) -> float:
        return self._usual.value if self._stated is None else self._stated

    def of(self, depth: Depth, pointer: str) -> Layer:
        """The layer of one result; one that cannot be goes with the main layer's results."""
        inches = self._inches(depth, pointer)
        return Layer(RESULTS, inches, self._density, inches is None or same(inches, self.main.depth_in))

    def note_density(self, entry: Entry, measured: Measurement) -> None:
        """Remember a result per area that was read with the usual weight of soil."""
        unit = measured.reported.unit
        if self._stated is not None or unit is None or unit in entry.multipliers or entry.spec is None:
            return
        if entry.spec.matrix == "soil" and self._units.areal_unit(unit):
            self.read_with_usual[measured.analyte] = Word("analyte", measured.analyte)

    def usual_density(self) -> list[Reason]:
        """That results per area were read with a weight of soil nobody measured: said, and no fault."""
        if not self.read_with_usual:
            return []
        density = Quantity(self._usual.value, self._usual.unit)
        values = {"analytes": tuple(self.read_with_usual.values()), "density": density}
        return [Reason("usual_density", "info", None, values, None, RESULTS)]

    def take(self) -> list[Reason]:
        """The reasons for layers that cannot be, each handed over once."""
        found, self.impossible = self.impossible, []
        return found

    def _main_depth(self, submission: Submission) -> type_of_depth:
        """The layer of the sample; when only the results name layers, the shallowest of them."""
        said = submission.sample.depth
        if said is not None:
            return self._inches(said, "/sample/depth")
        results = submission.results
        if not results or any(result.depth is None for result in results):
            return None
        depths = [self._inches(result.depth, "") for result in results if result.depth is not None]
        return min((depth for depth in depths if depth is not None), default=None)

    def _inches(self, depth: Depth, pointer: str) -> type_of_depth:
        """A layer in inches; None, with a reason, when it cannot be one."""
        try:
            top, bottom = (self._units.convert(x, depth.unit, "in") for x in (depth.top, depth.bottom))
        except (UnknownUnit, UnitMismatch):
            top, bottom = 0.0, 0.0
        if 0 <= top < bottom < inf:
            return (top, bottom)
        if pointer:
            values = {"top": depth.top, "bottom": depth.bottom, "unit": depth.unit}
            ask = Note("ask.depth_impossible")
            self.impossible.append(Reason("depth_impossible", "withhold", None, values, ask, pointer))
        return None


def _stated_density(submission: Submission, units: Units) -> float | None:
    """A bulk density stated among the results, g/cm3."""
    for result in submission.results:
        if result.analyte == "bulk_density" and result.value is not None and result.unit is not None:
            try:
                return units.convert(result.value, result.unit, "g/cm3")
            except (UnknownUnit, UnitMismatch):
                return None
    return None


def same(one: type_of_depth, other: type_of_depth) -> bool:
    """Whether two layers are one, up to the tolerance of writing."""
    if one is None or other is None:
        return one is other
    return abs(one[0] - other[0]) < SAME_DEPTH_IN and abs(one[1] - other[1]) < SAME_DEPTH_IN
