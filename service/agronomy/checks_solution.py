"""Checks of one solution against itself: charge balance, ions against EC, SAR and TDS. Saturation extract and water."""

from math import sqrt
from typing import NamedTuple

from service.agronomy.bench import EXTRACT, Bench
from service.agronomy.findings import Word
from service.agronomy.ions import ANIONS, CATIONS, NEEDED_ANIONS, balance_verdict, charge_difference_pct
from service.agronomy.sample import Measurement
from service.agronomy.units import scaled


class Solution(NamedTuple):
    """One solution: its measurements by analyte, and its ions in meq/L."""

    where: str
    found: dict[str, Measurement]
    meq_L: dict[str, float]

    def exact(self, analyte: str) -> float | None:
        """A plain figure in its canonical unit."""
        measurement = self.found.get(analyte)
        return measurement.value if measurement else None

    def total(self, ions: tuple[str, ...]) -> float:
        """Sum of the ions that were measured, meq/L."""
        return sum(self.meq_L.get(ion, 0.0) for ion in ions)


def check_solutions(bench: Bench) -> None:
    """Run every check on the saturation extract and on the irrigation water."""
    case = bench.case
    soil = {m.analyte: m for m in case.soil if m.method == EXTRACT and m.index not in bench.voids}
    water = {m.analyte: m for m in case.water}
    for where, found in (("extract", soil), ("water", water)):
        if len(found) < 2:
            continue
        solution = Solution(where, found, _ions(bench, found))
        _charge_balance(bench, solution)
        _cations_against_ec(bench, solution)
        _sar(bench, solution)
        if case.explain:
            _anions_against_ec(bench, solution)
            _chloride_against_ec(bench, solution)
            _solids_against_ec(bench, solution)


def _ions(bench: Bench, found: dict[str, Measurement]) -> dict[str, float]:
    """Ions in meq/L; sulfate and nitrate from whichever form was reported."""
    ions: dict[str, float] = {}
    for analyte in (*CATIONS, *ANIONS, "SO4-S"):
        measurement = found.get(analyte)
        if measurement is None or measurement.value is None:
            continue
        value = measurement.value
        if measurement.unit == "mg/L":
            value /= bench.vocabulary.analytes[analyte].equivalent_weight_g or 1.0
        ions.setdefault("SO4" if analyte == "SO4-S" else analyte, value)
    return ions


def _charge_balance(bench: Bench, solution: Solution) -> None:
    """Cations and anions carry equal charge."""
    ions = solution.meq_L
    anions = [ion for ion in NEEDED_ANIONS if ion in ions]
    if not anions or "Ca" not in ions:
        return
    missing = [ion for ion in ("Ca", "Mg", "Na", *NEEDED_ANIONS) if ion not in ions]
    plus, minus = solution.total(CATIONS), solution.total(ANIONS)
    if missing:
        bench.report("ion_balance", "not_possible", {"where": _where(solution), "missing": tuple(missing)})
        return
    if plus + minus <= 0:
        return
    difference = charge_difference_pct(plus, minus)
    figures = {"where": _where(solution), "cations": plus, "anions": minus, "difference_pct": difference}
    verdict = balance_verdict(bench.limits, plus, minus)
    bench.report("ion_balance", {"good": "pass", "caution": "warn", "failed": "fail"}[verdict], figures)
    if verdict == "failed":
        bench.reason("ion_balance_failed", "warning", None, figures)
        if solution.where == "extract":
            bench.weaken((solution.found[ion] for ion in ("Ca", "Mg", "Na")), "ion_balance_failed", figures)


def _cations_against_ec(bench: Bench, solution: Solution) -> None:
    """Sum of cations over ten times the EC; far off, one of the two is in another unit than it says."""
    ec, ions = solution.exact("EC"), solution.meq_L
    if not ec or not all(ion in ions for ion in ("Ca", "Mg", "Na")):
        return
    cations = solution.total(CATIONS)
    ratio = cations / (bench.limits.cations_per_ec * ec)
    figures = {"where": _where(solution), "cations": cations, "ec": ec, "ratio": ratio}
    low, high = _ratio_limits(bench, ec)
    if low <= scaled(ratio) <= high:
        bench.report("ec_cations", "pass", figures)
        return
    gross = bench.limit("ec_cations", "gross")
    if ratio > 0 and scaled(1 / gross) <= scaled(ratio) <= scaled(gross):
        bench.report("ec_cations", "warn", figures)
        return
    bench.report("ec_cations", "fail", figures)
    _gross(bench, solution, ratio, figures)


def _ratio_limits(bench: Bench, ec: float) -> tuple[int, int]:
    """The range of the ratio at this EC, millionths: lower in dilute, higher in concentrated solutions."""
    limits = bench.limits.scaled
    if not bench.above(ec, "ec_cations", "dilute_below"):
        return limits["ec_cations", "dilute_low"], limits["ec_cations", "dilute_high"]
    saline = bench.above(ec, "ec_cations", "saline_above")
    return limits["ec_cations", "low"], limits["ec_cations", "saline_high" if saline else "high"]


def _gross(bench: Bench, solution: Solution, ratio: float, figures: dict[str, object]) -> None:
    """EC or the cations in another unit: named when a plain unit slip explains it, both withheld when none does."""
    slip = next(
        (code for code, shift in (("us_cm", 1000.0), ("ms_m", 100.0)) if _ordinary(bench, ratio * shift)),
        None,
    )
    if slip is not None:
        values = {**figures, "slip": Word("slip", slip)}
        bench.reason("ec_unit", "withhold", "EC", values)
        doubted = [solution.found["EC"]]
    else:
        values = figures
        bench.reason("ec_or_cations", "withhold", "EC", values)
        doubted = [solution.found[name] for name in ("EC", "Ca", "Mg", "Na")]
    if solution.where == "extract":
        bench.void(doubted, "ec_or_cations", values)


def _ordinary(bench: Bench, ratio: float) -> bool:
    return bench.within(ratio, "ec_cations", "dilute_low", "saline_high")


def _anions_against_ec(bench: Bench, solution: Solution) -> None:
    ec, ions = solution.exact("EC"), solution.meq_L
    if not ec or not all(ion in ions for ion in NEEDED_ANIONS):
        return
    ratio = solution.total(ANIONS) / (bench.limits.cations_per_ec * ec)
    figures = {"where": _where(solution), "anions": solution.total(ANIONS), "ec": ec, "ratio": ratio}
    bench.compare("ec_anions", bench.within(ratio, "ec_anions", "low", "high"), figures)


def _chloride_against_ec(bench: Bench, solution: Solution) -> None:
    """Chloride alone cannot carry more than the whole conductivity."""
    ec, chloride = solution.exact("EC"), solution.meq_L.get("Cl")
    if not ec or chloride is None:
        return
    figures = {"where": _where(solution), "chloride": chloride, "ec": ec}
    bench.compare("ec_cl", not bench.above(chloride / (bench.limits.cations_per_ec * ec), "ec_cl", "factor"), figures)


def _solids_against_ec(bench: Bench, solution: Solution) -> None:
    """Dissolved solids over EC, mg/L per dS/m; sulfate waters run higher."""
    ec, solids = solution.exact("EC"), solution.exact("TDS")
    if not ec or solids is None:
        return
    figures = {"where": _where(solution), "tds": solids, "ec": ec, "ratio": solids / ec}
    bench.compare("tds_ec", bench.within(solids / ec, "tds_ec", "low", "high"), figures)


def _sar(bench: Bench, solution: Solution) -> None:
    """The reported SAR against the one from Na, Ca and Mg in meq/L."""
    reported, ions = solution.exact("SAR"), solution.meq_L
    if reported is None:
        return
    missing = tuple(ion for ion in ("Na", "Ca", "Mg") if ion not in ions)
    if missing:
        if len(missing) < 3:
            bench.report("sar", "not_possible", {"where": _where(solution), "missing": missing})
        return
    divalent = ions["Ca"] + ions["Mg"]
    if divalent <= 0:
        return
    computed = ions["Na"] / sqrt(divalent / 2)
    figures = {"where": _where(solution), "reported": reported, "computed": computed}
    allowed = max(bench.limit("sar", "absolute"), bench.limit("sar", "relative") / 100 * computed)
    if scaled(abs(reported - computed)) <= scaled(allowed):
        bench.report("sar", "pass", figures)
        return
    slipped = computed > 0 and bench.within(reported / computed, "sar_units", "low", "high")
    bench.report("sar_units" if slipped else "sar", "fail" if slipped else "warn", figures)
    bench.reason("sar_units" if slipped else "sar_differs", "warning", "SAR", figures)
    if solution.where == "extract":
        bench.void((solution.found["SAR"],), "sar_recomputed", figures)


def _where(solution: Solution) -> Word:
    return Word("solution", solution.where)
