"""The ECe of a case: measured on the saturated paste, or estimated from a diluted extract with an honest range."""

from collections.abc import Mapping
from statistics import median
from typing import NamedTuple

from service.agronomy.conductivity import ece_by_line, ece_by_saturation, ece_range
from service.agronomy.findings import EceEstimate, Note, Texture, Word
from service.agronomy.ledger import Ledger
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case, Measurement
from service.agronomy.submission import Quantity
from service.agronomy.tables import DilutionRow, Library
from service.agronomy.units import significant

PASTE = "saturated_paste_extract"
DILUTED = ("water_1_1", "water_1_2", "water_1_5")
ANY_TEXTURE = "any"
NEIGHBOURS: Mapping[str, tuple[str, ...]] = {
    "coarse": ("coarse", "medium"),
    "medium": ("coarse", "medium", "fine"),
    "fine": ("medium", "fine"),
}


class Lines(NamedTuple):
    """Published lines for one dilution and texture: the preferred ones, and all that the range takes in."""

    preferred: tuple[DilutionRow, ...]
    rows: tuple[DilutionRow, ...]
    points: tuple[tuple[float, float], ...]


class EceReading(NamedTuple):
    """ECe with the interval it lies in (``high`` may be infinite) and the measurement behind it."""

    estimate: EceEstimate
    low: float
    high: float
    measurement: Measurement

    @property
    def estimated(self) -> bool:
        """Whether the figure was converted from a diluted extract."""
        return self.estimate.estimated


def lines_of(library: Library) -> Mapping[tuple[str, str], Lines]:
    """(method, texture group or ``any``) -> published lines. Prepared once per library."""
    rows = library.rows("ece-dilution", DilutionRow)
    return {
        (method, group): _lines([row for row in rows if row.method == method], group)
        for method in DILUTED
        for group in (*NEIGHBOURS, ANY_TEXTURE)
    }


def _lines(rows: list[DilutionRow], group: str) -> Lines:
    if group == ANY_TEXTURE:
        fitting = rows
    else:
        fitting = [row for row in rows if row.texture in (group, ANY_TEXTURE)]
        if len(fitting) < 2:  # one line has no range: its neighbours in texture show how far studies differ
            fitting = [row for row in rows if row.texture in NEIGHBOURS[group]]
    preferred = [row for row in fitting if row.preferred and group in (row.texture, ANY_TEXTURE)]
    return Lines(
        tuple(preferred or fitting),
        tuple(fitting),
        tuple((row.slope, row.intercept_dS_m) for row in fitting),
    )


def ece_of(case: Case, texture: Texture | None, ledger: Ledger) -> EceReading | None:
    """The ECe of the main layer; ``None`` when no extract that can give one was measured.

    A figure below or above a reporting limit keeps its interval; its end stands for the value.
    """
    paste = case.find("EC", PASTE)
    if paste is not None and paste.text is None:
        return _measured(paste, ledger)
    diluted = case.find("EC", *DILUTED)
    if diluted is not None and diluted.exact:
        return _estimated(case, diluted, texture, ledger)
    return None


def _measured(paste: Measurement, ledger: Ledger) -> EceReading:
    value = paste.value if paste.value is not None else (paste.low or paste.high)
    if value == float("inf"):
        value = paste.low
    if ledger.explain:
        ledger.step("ece_measured", "ece_of", {"method": Word("method", paste.method)}, value, "dS/m")
    return EceReading(EceEstimate(value, False, value, value, "measured"), paste.low, paste.high, paste)


def _estimated(case: Case, diluted: Measurement, texture: Texture | None, ledger: Ledger) -> EceReading | None:
    if diluted.value is None:
        return None
    paste = case.find("SP")
    group = texture.group if texture else ANY_TEXTURE
    estimate = estimated_ece(
        case.library, diluted.value, diluted.method, group, paste.value if paste is not None else None, ledger
    )
    if estimate is None:
        return None
    ledger.notes.extend(_estimate_notes(diluted.method, diluted.value, texture, estimate))
    return EceReading(estimate, estimate.low, estimate.high, diluted)


def estimated_ece(
    library: Library, EC_dS_m: float, method: str, group: str, saturation_pct: float | None, ledger: Ledger
) -> EceEstimate | None:
    """ECe from a diluted extract with its range over all published lines that fit, widened by their scatter, dS/m.

    Args:
        method: water_1_1, water_1_2, water_1_5. group: coarse, medium, fine, or any where the texture is unknown.
        saturation_pct: saturation percentage; used with 1:5 instead of the lines.

    Sources: table ``ece-dilution``, formula rows ec_dil and ec15_sp. ``None`` where the table has no line.
    """
    lines = library.index(lines_of).get((method, group))
    if lines is None or not lines.rows:
        return None
    scatter = reference_of(library).factor("dilution_scatter")
    low, high = ece_range(EC_dS_m, lines.points, scatter.value)
    if method == "water_1_5" and saturation_pct:
        value = _by_saturation(library, EC_dS_m, saturation_pct, ledger)
    else:
        value = median(ece_by_line(EC_dS_m, row.slope, row.intercept_dS_m) for row in lines.preferred)
        _explain_lines(ledger, EC_dS_m, lines, value)
    low, high = significant(min(low, value)), significant(max(high, value))
    ledger.use(*lines.rows, scatter)
    inputs = {"EC": EC_dS_m, "lines": len(lines.rows), "low": low, "high": high}
    ledger.step("ece_range", "ec_dil", inputs, high, "dS/m")
    return EceEstimate(significant(value), True, low, high, f"from_{method}")


def _by_saturation(library: Library, ec: float, saturation_pct: float, ledger: Ledger) -> float:
    formula = reference_of(library).formula("ec15_sp")
    value = ece_by_saturation(ec, saturation_pct, base=formula.coefficients["a"], per_theta=formula.coefficients["b"])
    ledger.step("ece_by_saturation", "ec15_sp", {"EC": ec, "SP": saturation_pct}, significant(value), "dS/m", formula)
    return value


def _explain_lines(ledger: Ledger, ec: float, lines: Lines, value: float) -> None:
    if ledger.explain:
        used = lines.preferred[0]
        inputs = {"EC": ec, "slope": used.slope, "intercept": used.intercept_dS_m}
        if len(lines.preferred) > 1:
            inputs = {"EC": ec, "lines": len(lines.preferred)}
        ledger.step("ece_by_line", "ec_dil", inputs, significant(value), "dS/m", *lines.preferred)


def _estimate_notes(method: str, ec: float, texture: Texture | None, estimate: EceEstimate) -> list[Note]:
    figures = {
        "method": Word("method", method),
        "EC": Quantity(ec, "dS/m"),
        "ECe": Quantity(estimate.value, "dS/m"),
        "low": estimate.low,
        "high": Quantity(estimate.high, "dS/m"),
    }
    notes = [Note("salt.estimated", figures), Note("salt.order_paste")]
    if texture is None:
        notes.append(Note("salt.texture_unknown"))
    return notes
