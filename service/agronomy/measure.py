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

type_of_depth = tuple[float, float] | None


class Doubt(NamedTuple):
    """What is wrong with one result: the reason given to the client, the note kept with it, and whether it is used."""

    reason: Reason
    note: Note
    usable: bool = False


class Layer(NamedTuple):
    """Where a result stands: pointer, layer in inches, stated bulk density in g/cm3, and whether pH and EC decide."""

    pointer: str
    depth_in: type_of_depth
    density: float | None
    main: bool


def measure(entry: Entry, units: Units, result: Result, index: int, layer: Layer) -> tuple[Measurement, Doubt | None]:
    """A result in its canonical unit with its interval, and the doubt that keeps it from being used, if any."""
    spec, value = entry.spec, result.value
    unit = spec.unit if spec is not None else (result.unit or "")
    if value is None:
        return _of_words(entry, result, index, layer)
    if entry.word_only:
        return _unread(entry, unit, result, index, layer), _doubt("word_expected", entry, result, layer)
    try:
        figure = _convert(entry, units, value, result.unit, layer)
    except (UnknownUnit, UnitMismatch, OutOfRange):
        code = "unit_missing" if result.unit is None else "unit_does_not_fit"
        return _unread(entry, unit, result, index, layer), _doubt(code, entry, result, layer)
    if not isfinite(figure):
        return _unread(entry, unit, result, index, layer), _doubt("not_a_number", entry, result, layer)
    exact: float | None = figure
    low = high = figure
    if result.qualifier is not None:
        exact = None
        low, high = (0.0, figure) if result.qualifier == "<" else (figure, inf)
    measured = Measurement(
        entry.canonical, entry.method, unit, exact, low, high, None, index, result, layer.depth_in, spec
    )
    least, most = entry.possible
    size = round(figure * SCALE)
    if (least is not None and size < least) or (most is not None and size > most):
        return measured, _impossible(entry, units, result, figure, layer)
    least, most = entry.usual
    if (least is not None and size < least) or (most is not None and size > most):
        return measured, _unusual(entry, units, result, figure, layer)
    return measured, None


def _convert(entry: Entry, units: Units, value: float, unit: str | None, layer: Layer) -> float:
    """The figure in the canonical unit; a result without a methods row keeps its own unit, in the canonical form."""
    spec = entry.spec
    if spec is None:
        return value * units.form_factor(entry.analyte.analyte, entry.canonical)
    if unit is None:
        if not entry.analyte.unit_optional:
            raise UnitMismatch("a unit is never guessed")
        return value
    if spec.matrix == "soil" and units.areal_unit(unit):
        return units.to_canonical(spec, entry.analyte, value, unit, layer.depth_in, layer.density)
    multiplier = entry.multipliers.get(unit) or entry.multiplier(units, unit)
    if multiplier is None:
        return units.to_canonical(spec, entry.analyte, value, unit, layer.depth_in, layer.density)
    return value * multiplier


def _of_words(entry: Entry, result: Result, index: int, layer: Layer) -> tuple[Measurement, Doubt | None]:
    words = entry.analyte.text_words
    measured = Measurement(
        entry.canonical, entry.method, "", None, 0.0, inf, result.text, index, result, layer.depth_in, entry.spec
    )
    if result.text not in words:
        return measured, _doubt("word_unknown" if result.text else "value_missing", entry, result, layer)
    if entry.canonical in WORDS or entry.method in OBSERVED:
        return measured, None
    return measured, _doubt("figure_expected", entry, result, layer)


def _unread(entry: Entry, unit: str, result: Result, index: int, layer: Layer) -> Measurement:
    """A result that could not be converted: it is shown and never used."""
    return Measurement(
        entry.canonical, entry.method, unit, None, 0.0, inf, None, index, result, layer.depth_in, entry.spec
    )


def reported(result: Result) -> Quantity | str | None:
    """The figure as it was sent."""
    if result.value is None or not isfinite(result.value):
        return result.text
    return Quantity(result.value, result.unit or "")


def _doubt(code: str, entry: Entry, result: Result, layer: Layer) -> Doubt:
    values = {"analyte": Word("analyte", entry.analyte.analyte), "value": reported(result)}
    reason = Reason(code, "withhold", entry.canonical, values, Note(f"ask.{code}", values), layer.pointer)
    return Doubt(reason, Note(f"void.{code}", values))


def _unusual(entry: Entry, units: Units, result: Result, figure: float, layer: Layer) -> Doubt | None:
    """Possible but rarely seen: used, and asked about. ``<`` and ``>`` are the laboratory's limits, not figures."""
    if result.qualifier is not None or entry.spec is None:
        return None
    values: dict[str, Any] = {"analyte": Word("analyte", entry.analyte.analyte), "value": reported(result)}
    slip = slips.likely(entry, units, result.value or 0.0, result.unit, figure)
    code = "unusual_value"
    if slip is not None:
        code, values["slip"] = "unusual_value_slip", slip
    ask = Note("ask.confirm_value", values)
    reason = Reason(code, "warning", entry.canonical, values, ask, layer.pointer)
    return Doubt(reason, Note("weak.unusual_value", values), usable=True)


def _impossible(entry: Entry, units: Units, result: Result, figure: float, layer: Layer) -> Doubt:
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
        layer.pointer,
    )
    return Doubt(reason, Note("void.impossible_value", values))
