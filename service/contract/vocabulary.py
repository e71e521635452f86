"""The closed lists of one library, prepared for checking submissions: analytes, methods, units, words, crops."""

import unicodedata
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from functools import lru_cache

from service.agronomy.errors import UnitMismatch, UnknownUnit
from service.agronomy.tables import (
    AmountRow,
    AnalyteRow,
    CalibrationRow,
    Library,
    MaterialRow,
    MethodRow,
    UnitRow,
    WordRow,
)
from service.agronomy.units import Units

NOT_STATED = "not_stated"
PER_AREA = ("areal_rate", "areal_soil")


class Vocabulary:
    """Made once per library: ``library.index(Vocabulary)``.

    Attributes:
        analytes: analyte -> row.
        methods: canonical analyte -> method -> row.
        words: name of the list -> its words.
        units: the unit table.
        materials: material -> row.
    """

    def __init__(self, library: Library) -> None:
        self.library = library
        self.analytes = {row.analyte: row for row in library.rows("analytes", AnalyteRow)}
        self.methods: dict[str, dict[str, MethodRow]] = {}
        for row in library.rows("methods", MethodRow):
            self.methods.setdefault(row.analyte, {})[row.method] = row
        self.method_codes = tuple(sorted({method for found in self.methods.values() for method in found}))
        self.units = library.index(Units.of)
        self.unit_rows = {row.spelling: row for row in library.rows("units", UnitRow)}
        self.words = _lists(library.rows("words", WordRow))
        self.calibrations = tuple(row.calibration for row in library.rows("calibrations", CalibrationRow))
        self.materials = {row.material: row for row in library.rows("materials", MaterialRow)}
        self.yield_units = _yield_units(library)
        self.crop_names = _crop_names(library)
        self.accepted: set[tuple[str, str | None, str | None, bool]] = set()
        self.closest = lru_cache(maxsize=4096)(self._closest)

    def methods_of(self, analyte: str, water: bool) -> Mapping[str, MethodRow]:
        """Methods that fit an analyte, in irrigation water or in soil."""
        row = self.analytes[analyte]
        found = {**self.methods.get(row.canonical or analyte, {}), **self.methods.get(analyte, {})}
        return {method: spec for method, spec in found.items() if (spec.matrix == "water") is water}

    def unit_fits(self, analyte: str, method: str | None, unit: str, water: bool) -> bool:
        """Whether a known unit can express the analyte by its method (by any of its methods when none is stated)."""
        specs = self.methods_of(analyte, water)
        named = specs.get(method) if method else None
        candidates = [named] if named else list(specs.values())
        return not candidates or any(self._expresses(analyte, unit, spec) for spec in candidates)

    def units_for(self, analyte: str, method: str | None, water: bool) -> tuple[str, ...]:
        """Spellings that fit, for telling what would be right; the unit of the tables comes first."""
        specs = self.methods_of(analyte, water)
        first = [specs[method].unit] if method and method in specs else [spec.unit for spec in specs.values()]
        return tuple(dict.fromkeys([*first, *(u for u in self.unit_rows if self.unit_fits(analyte, method, u, water))]))

    def units_of(self, dimension: str) -> tuple[str, ...]:
        """Spellings of one dimension."""
        return tuple(spelling for spelling, row in self.unit_rows.items() if row.dimension == dimension)

    def _expresses(self, analyte: str, unit: str, spec: MethodRow) -> bool:
        if spec.matrix == "soil" and self.units.dimension(unit) in PER_AREA:
            return True  # whether depth and bulk density allow it is for the core to say
        try:
            self.units.express(1.0, unit, spec.unit, spec.matrix, analyte, spec.analyte)
        except (UnitMismatch, UnknownUnit):
            return False
        return True

    def _closest(self, kind: str, word: str) -> tuple[str, ...]:
        candidates = self._candidates(kind)
        folded = fold(word[:80])
        near = get_close_matches(folded, candidates, n=12, cutoff=0.75)
        if len(folded) > 2:
            near += [name for name in candidates if folded in name.split() or (len(name) > 3 and name in folded)]
        return tuple(dict.fromkeys(candidates[name] for name in near))[:5]

    def _candidates(self, kind: str) -> Mapping[str, str]:
        """What people may have meant, folded -> the word to send."""
        if kind == "crop":
            return self.crop_names
        if kind == "analyte":
            rows = self.analytes.values()
            return _folded((name, row.analyte) for row in rows for name in (row.analyte, row.name_en, row.name_es))
        if kind == "method":
            specs = [spec for found in self.methods.values() for spec in found.values()]
            return _folded((name, spec.method) for spec in specs for name in (spec.method, spec.name_en, spec.name_es))
        if kind == "material":
            stock = self.materials.values()
            return _folded((name, row.material) for row in stock for name in (row.material, row.name_en, row.name_es))
        words = tuple(self.unit_rows) if kind == "unit" else self.words.get(kind, ())
        return _folded((word, word) for word in words)


def fold(text: str) -> str:
    """A text without case, accents, hyphens and underscores, for comparing what people type."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    return "".join(" " if sign in "-_ " else sign for sign in plain if not unicodedata.combining(sign)).strip()


def _folded(pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Folded name -> word; the first of several names that fold alike wins."""
    found: dict[str, str] = {}
    for name, word in pairs:
        found.setdefault(fold(name), word)
    return found


def _lists(rows: Iterable[WordRow]) -> dict[str, tuple[str, ...]]:
    lists: dict[str, list[str]] = {}
    for row in rows:
        lists.setdefault(row.list, []).append(row.word)
    return {name: tuple(words) for name, words in lists.items()}


def _yield_units(library: Library) -> tuple[str, ...]:
    rows = [row for table in library.tables.values() for row in table if isinstance(row, AmountRow)]
    rows += [row for crop in library.crops.values() for row in crop.amounts]
    return tuple(sorted({row.yield_unit for row in rows if row.yield_unit}))


def _crop_names(library: Library) -> dict[str, str]:
    return _folded(
        (name, crop.id)
        for crop in library.crops.values()
        for name in (crop.id, crop.scientific_name, *(name for listed in crop.names.values() for name in listed))
    )
