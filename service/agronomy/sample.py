"""The submission as understood: canonical units, intervals for censored values, one `Case` that the steps share.

A `Case` is made once by `service.agronomy.door.understand`. Steps read it; they never change it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from service.agronomy.findings import Note
from service.agronomy.submission import Result, Submission
from service.agronomy.tables import Crop, Library, MethodRow
from service.agronomy.units import ClientUnits


@dataclass(slots=True)
class Measurement:
    """One result in its canonical analyte and unit.

    Attributes:
        analyte: canonical analyte (``NO3`` sent becomes ``NO3-N`` here).
        method: method code as sent; ``not_stated`` when none was.
        unit: canonical unit of the (analyte, method) pair; ``""`` for words.
        value: the figure, or ``None`` when it is censored or a word.
        low, high: the interval the figure lies in; equal when it is exact; ``high`` is infinite for ``>``.
        text: class word (``acid_fizz``: ``none`` .. ``violent``; ``texture``: class name).
        index: position in the submitted list, for pointers.
        depth_in: layer in inches, or ``None`` when nobody said.
        spec: the row of the methods table, or ``None`` for a pair without one.
    """

    analyte: str
    method: str
    unit: str
    value: float | None
    low: float
    high: float
    text: str | None
    index: int
    reported: Result
    depth_in: tuple[float, float] | None
    spec: MethodRow | None

    @property
    def exact(self) -> bool:
        """True for a plain figure: neither censored nor a word."""
        return self.value is not None

    @property
    def uncertainty(self) -> float:
        """One standard deviation of the method, canonical unit; 0 when the table gives none."""
        spec = self.spec
        if spec is None or spec.uncertainty is None or self.value is None:
            return 0.0
        return spec.uncertainty * self.value if spec.uncertainty_kind == "relative" else spec.uncertainty


@dataclass(slots=True)
class Case:
    """Everything the steps need to know about one submission.

    Attributes:
        soil: measurements of the main layer, in the order sent.
        layers: measurements of other layers (each has ``depth_in``).
        water: measurements of the irrigation water.
        depth_in: main layer in inches, or ``None``: then nothing is turned into an amount per area.
        area_m2: area of the target, or ``None``.
        voids: index of a soil result -> why it is not used.
        weakened: index of a soil result -> why it is used with a caution.
        explain: make steps, borderline classes, rivals and alternatives; off for bulk work.
    """

    submission: Submission
    library: Library
    crop: Crop | None
    as_of: date
    explain: bool
    units: ClientUnits
    soil: tuple[Measurement, ...]
    layers: tuple[Measurement, ...]
    water: tuple[Measurement, ...]
    depth_in: tuple[float, float] | None
    area_m2: float | None
    voids: Mapping[int, Note]
    weakened: Mapping[int, Note]
    by_analyte: Mapping[str, tuple[Measurement, ...]]
    water_by_analyte: Mapping[str, tuple[Measurement, ...]]

    def find(self, analyte: str, *methods: str) -> Measurement | None:
        """The first trusted main-layer measurement of an analyte, by any of the methods (any method when none named).

        With several methods their order is the order of preference.
        """
        found = self.by_analyte.get(analyte)
        if not found:
            return None
        if not methods:
            return found[0]
        for method in methods:
            for measurement in found:
                if measurement.method == method:
                    return measurement
        return None

    def find_water(self, analyte: str) -> Measurement | None:
        """The trusted measurement of an analyte in the irrigation water."""
        found = self.water_by_analyte.get(analyte)
        return found[0] if found else None

    def trusting(self, voids: Mapping[int, Note], weakened: Mapping[int, Note]) -> "Case":
        """The same case with the voided results out of `find`'s reach."""
        if voids == self.voids and weakened == self.weakened:
            return self
        trusted: dict[str, tuple[Measurement, ...]] = {}
        for measurement in self.soil:
            if measurement.index not in voids:
                trusted[measurement.analyte] = (*trusted.get(measurement.analyte, ()), measurement)
        return replace(self, voids=voids, weakened=weakened, by_analyte=trusted)
