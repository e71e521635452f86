"""One reported result as a `Measurement`: canonical unit, interval, and a doubt when it cannot be true."""

from math import inf, isfinite
from typing import Any, NamedTuple

from service.agronomy import slips
from service.agronomy.errors import OutOfRange, UnitMismatch, UnknownUnit
from service.agronomy.findings import Note, Reason, Word
from service.agronomy.sample import Measurement
from service.agronomy.submission import Quantity, Result
from service.agronomy.units import SCALE, Units
from service.agronomy.vocabulary import OBSERVED, WORDS, Entry

DECISIVE = frozenset(("pH", "EC"))
"""Figures everything else is read against: an impossible one refuses the whole."""

RESULTS = "/results"
type_of_depth = tuple[float, float] | None


class Doubt(NamedTuple):
    """What is wrong with one result: the reason given to the client, the note kept with it, and whether it is used."""

    reason: Reason
    note: Note
    usable: bool = False


class Layer(NamedTuple):
    """Where a result stands: pointer of its list, layer in inches, bulk density in g/cm3, whether pH and EC decide."""

    results: str
    depth_in: type_of_depth
    density: float | None
    main: bool


def measure(entry: Entry, units: Units, result: Result, index: int, layer: Layer) -> tuple[Measurement, Doubt | None]:
    """A result in its canonical unit with its interval, and the doubt that keeps it from being used, if any."""
    _, _, value, unit, qualifier, _, _ = result
    if value is None or entry.word_only:
        return _of_words(entry, result, index, layer)
    spec = entry.spec
    multiplier = entry.multipliers.get(unit)
    if multiplier is None:
        try:
            multiplier, value = 1.0, _convert(entry, units, value, unit, layer)
        except (UnknownUnit, UnitMismatch, OutOfRange):
            return _unread("unit_missing" if unit is None else "unit_does_not_fit", entry, result, index, layer)
    figure = value * multiplier
    if not -inf < figure < inf:
        return _unread("not_a_number", entry, result, index, layer)
    exact: float | None = figure
    low = high = figure
    if qualifier is not None:
        exact = None
        low, high = (0.0, figure) if qualifier == "<" else (figure, inf)
    canonical_unit = spec.unit if spec is not None else (unit or "")
    measured = Measurement(
        entry.canonical, entry.method, canonical_unit, exact, low, high, None, index, result, layer.depth_in, spec
    )
    least, most = entry.usual
    if least <= round(figure * SCALE) <= most:
        return measured, None
    return measured, _out_of_range(entry, units, result, figure, index, layer)


def _out_of_range(entry: Entry, units: Units, result: Result, figure: float, index: int, layer: Layer) -> Doubt | None:
    """Impossible or only unusual."""
    least, most = entry.possible
    if least <= round(figure * SCALE) <= most:
        return _unusual(entry, units, result, figure, index, layer)
    return _impossible(entry, units, result, figure, index, layer)


def _convert(entry: Entry, units: Units, value: float, unit: str | None, layer: Layer) -> float:
    """The figure in the canonical unit; a result without a methods row keeps its own unit, in the canonical form."""
    spec = entry.spec
    if spec is None:
        return value * units.form_factor(entry.analyte.analyte, entry.canonical)
    if unit is None:
        raise UnitMismatch("a unit is never guessed")
    multiplier = entry.multiplier(units, unit)
    if multiplier is None:
        return units.to_canonical(spec, entry.analyte, value, unit, layer.depth_in, layer.density)
    return value * multiplier


def _of_words(entry: Entry, result: Result, index: int, layer: Layer) -> tuple[Measurement, Doubt | None]:
    """A class word; a number where a word belongs, and a word where a number belongs, are doubted."""
    if result.value is not None:
        return _unread("word_expected", entry, result, index, layer)
    measured = Measurement(
        entry.canonical, entry.method, "", None, 0.0, inf, result.text, index, result, layer.depth_in, entry.spec
    )
    if result.text not in entry.analyte.text_words:
        return measured, _doubt("word_unknown" if result.text else "value_missing", entry, result, index, layer)
    if entry.canonical in WORDS or entry.method in OBSERVED:
        return measured, None
    return measured, _doubt("figure_expected", entry, result, index, layer)


def _unread(code: str, entry: Entry, result: Result, index: int, layer: Layer) -> tuple[Measurement, Doubt]:
    """A result that could not be converted: it is shown and never used."""
    unit = entry.spec.unit if entry.spec is not None else (result.unit or "")
    measured = Measurement(
        entry.canonical, entry.method, unit, None, 0.0, inf, None, index, result, layer.depth_in, entry.spec
    )
    return measured, _doubt(code, entry, result, index, layer)


def reported(result: Result) -> Quantity | str | None:
    """The figure as it was sent."""
    if result.value is None or not isfinite(result.value):
        return result.text
    return Quantity(result.value, result.unit or "")


def _doubt(code: str, entry: Entry, result: Result, index: int, layer: Layer) -> Doubt:
    values = {"analyte": Word("analyte", entry.analyte.analyte), "value": reported(result)}
    reason = Reason(code, "withhold", entry.canonical, values, Note(f"ask.{code}", values), f"{layer.results}/{index}")
    return Doubt(reason, Note(f"void.{code}", values))


def _unusual(entry: Entry, units: Units, result: Result, figure: float, index: int, layer: Layer) -> Doubt | None:
    """Possible but rarely seen: used, and asked about. ``<`` and ``>`` are the laboratory's limits, not figures."""
    if result.qualifier is not None or entry.spec is None:
        return None
    values: dict[str, Any] = {"analyte": Word("analyte", entry.analyte.analyte), "value": reported(result)}
    slip = slips.likely(entry, units, result.value or 0.0, result.unit, figure)
    code = "unusual_value"
    if slip is not None:
        code, values["slip"] = "unusual_value_slip", slip
    ask = Note("ask.confirm_value", values)
    reason = Reason(code, "warning", entry.canonical, values, ask, f"{layer.results}/{index}")
    return Doubt(reason, Note("weak.unusual_value", values), usable=True)


def _impossible(entry: Entry, units: Units, result: Result, figure: float, index: int, layer: Layer) -> Doubt:
    """Outside what can be: named with the range and the likely slip, asked about, never corrected."""
    spec = entry.spec
    values: dict[str, Any] = {
        "analyte": Word("analyte", entry.analyte.analyte),
        "value": reported(result),
        "low": Quantity(spec.possible_min or 0.0, spec.unit) if spec else None,
        "high": Quantity(spec.possible_max or 0.0, spec.unit) if spec else None,
    }
    slip = slips.likely(entry, units, result.value or 0.0, result.unit, figure)
    code = "impossible_value"
    if slip is not None:
        code, values["slip"] = "impossible_value_slip", slip
    decisive = layer.main and entry.canonical in DECISIVE and entry.method not in OBSERVED
    reason = Reason(
        code,
        "refuse" if decisive else "withhold",
        entry.canonical,
        values,
        Note("ask.confirm_value", values),
        f"{layer.results}/{index}",
    )
    return Doubt(reason, Note("void.impossible_value", values))
