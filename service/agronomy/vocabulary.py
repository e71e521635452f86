"""What an analyte and a method mean: the tables ``analytes`` and ``methods`` joined, prepared once per library."""

from collections.abc import Mapping

from service.agronomy.tables import AnalyteRow, Library, MethodRow
from service.agronomy.units import Units, scaled

FAR = 10**18
"""Stands for an open end of a range, in millionths: beyond any figure a laboratory can report."""
NOT_STATED = "not_stated"
OBSERVED = frozenset(("home_kit", "probe"))
"""Kits and probes: accepted as observations, never a basis."""
LOW_MATTERS = frozenset(("reaction", "physical", "cation"))
"""Kinds of analyte of which a figure below the plausible range is worth asking about; a low nutrient is ordinary."""
WORDS = frozenset(("lime", "texture"))
"""Analytes that may come as a class word from a laboratory or a field test."""
SAR_METHOD = "saturated_paste_extract"
WATER_METHOD = "water_sample"


class Entry:
    """One analyte as reported, by one method: the row of its canonical form and how to get there.

    ``word_only``: the method answers in words (acid fizz, texture by feel). ``possible`` and ``plausible`` are the
    ends of the two ranges in millionths of the canonical unit, None where open; ``usual`` is the plausible range as far
    as a figure outside it is worth a question. An open end is `FAR`.
    """

    __slots__ = ("analyte", "canonical", "method", "multipliers", "plausible", "possible", "spec", "usual", "word_only")

    def __init__(self, analyte: AnalyteRow, method: str, spec: MethodRow | None) -> None:
        self.analyte = analyte
        self.canonical = analyte.canonical or analyte.analyte
        self.method = method
        self.spec = spec
        self.word_only = spec is not None and spec.unit == "1" and bool(analyte.text_words)
        self.multipliers: dict[str | None, float] = {None: 1.0} if spec and analyte.unit_optional else {}
        self.possible = _range(spec.possible_min, spec.possible_max) if spec else (-FAR, FAR)
        self.plausible = _range(spec.plausible_min, spec.plausible_max) if spec else (-FAR, FAR)
        low_matters = analyte.kind in LOW_MATTERS and spec is not None and spec.matrix != "extract"
        low = self.plausible[0] if low_matters else self.possible[0]
        self.usual = (max(low, self.possible[0]), min(self.plausible[1], self.possible[1]))

    def multiplier(self, units: Units, unit: str) -> float | None:
        """The factor to the canonical unit, None where a factor does not do. Raises UnknownUnit, UnitMismatch."""
        spec = self.spec
        per_area = spec is not None and spec.matrix == "soil" and units.areal_unit(unit)
        if spec is None or per_area or not units.proportional(unit, spec.unit):
            return None
        return self.multipliers.setdefault(unit, units.to_canonical(spec, self.analyte, 1.0, unit, None, None))

    def plausible_value(self, value: float) -> bool:
        """Whether a figure in the canonical unit is one that soils show."""
        return self.plausible[0] <= scaled(value) <= self.plausible[1]


class Vocabulary:
    """Every analyte with every method it may come by: ``library.index(Vocabulary.of)``."""

    __slots__ = ("_water", "analytes", "entries", "units")

    def __init__(
        self,
        units: Units,
        analytes: Mapping[str, AnalyteRow],
        soil: dict[tuple[str, str | None], Entry],
        water: dict[tuple[str, str | None], Entry],
    ) -> None:
        self.units = units
        self.analytes = analytes
        self.entries = soil
        self._water = water

    @classmethod
    def of(cls, library: Library) -> "Vocabulary":
        """Join ``analytes`` and ``methods``."""
        analytes = {row.analyte: row for row in library.rows("analytes", AnalyteRow)}
        specs: dict[str, dict[str, MethodRow]] = {}
        for row in library.rows("methods", MethodRow):
            specs.setdefault(row.analyte, {})[row.method] = row
        soil: dict[tuple[str, str | None], Entry] = {}
        water: dict[tuple[str, str | None], Entry] = {}
        for name, analyte in analytes.items():
            known = specs.get(analyte.canonical or name, {})
            for method, spec in known.items():
                soil[name, method] = Entry(analyte, method, spec)
            unsaid = _unsaid(name, known)
            soil[name, None] = soil.get((name, unsaid)) or Entry(analyte, unsaid, None)
            water[name, None] = Entry(analyte, WATER_METHOD, known.get(WATER_METHOD))
        return cls(library.index(Units.of), analytes, soil, water)

    def soil(self, analyte: str, method: str | None) -> Entry | None:
        """The entry of a soil result; None for an analyte nobody knows."""
        found = self.entries.get((analyte, method))
        if found is None and analyte in self.analytes:
            return Entry(self.analytes[analyte], method or NOT_STATED, None)
        return found

    def water(self, analyte: str, method: str | None) -> Entry | None:
        """The entry of an irrigation water result: the method is the water sample, said or not."""
        if method in (None, WATER_METHOD):
            return self._water.get((analyte, None))
        return self.soil(analyte, method)


def _unsaid(analyte: str, known: Mapping[str, MethodRow]) -> str:
    """The method of a result that names none: the only one there is, else not stated."""
    if analyte == "SAR":
        return SAR_METHOD
    if NOT_STATED not in known and len(known) == 1:
        return next(iter(known))
    return NOT_STATED


def _range(low: float | None, high: float | None) -> tuple[int, int]:
    return (-FAR if low is None else scaled(low), FAR if high is None else scaled(high))
