"""Checks of one figure alone, and of duplicates: slips of unit, form and decimal point are asked about."""

from service.agronomy.bench import EXTRACT, Bench
from service.agronomy.findings import Note, Reason, Word
from service.agronomy.sample import Measurement
from service.agronomy.units import difference_pct, scaled

NITRATE = "NO3-N"
FRACTIONS = frozenset(("sand", "silt", "clay"))


def check_single(bench: Bench) -> None:
    """Figures that the door found unusual: asked about, and so far out that they are a likely slip, not used."""
    for measurement in bench.case.soil if bench.case.weakened else ():
        if measurement.index in bench.case.weakened and measurement.index not in bench.voids:
            _unusual(bench, measurement, bench.case.weakened[measurement.index])


def _unusual(bench: Bench, measurement: Measurement, note: Note) -> None:
    """Below its slip limit a figure is used with a caution; nitrate without one: doubt must not raise the nitrogen."""
    values = dict(note.values)
    pointer = f"/results/{measurement.index}"
    slip = _slip(bench, measurement)
    if slip is None:
        bench.report("plausible_range", "warn", values)
        code = "unusual_value_slip" if "slip" in values else "unusual_value"
        ask = Note("ask.confirm_value", values)
        bench.reasons.append(Reason(code, "warning", measurement.analyte, values, ask, pointer))
        if measurement.analyte != NITRATE:
            bench.weakened.setdefault(measurement.index, note)
        return
    check, word = slip
    values["slip"] = Word("slip", word)
    bench.report(check, "fail", values)
    ask = Note("ask.confirm_value", values)
    bench.reasons.append(Reason("likely_slip", "withhold", measurement.analyte, values, ask, pointer))
    bench.void((measurement,), "likely_slip", values)


def _slip(bench: Bench, m: Measurement) -> tuple[str, str] | None:
    """The check whose limit the figure is beyond and the slip it stands for."""
    value = m.value
    if value is None:
        return None
    if m.analyte == "P" and m.method == "olsen" and bench.above(value, "slip_p", "olsen"):
        return ("slip_p", "other_p")
    if m.analyte == "OM" and bench.above(value, "slip_om", "from"):
        return ("slip_om", "decimal")
    if m.analyte == "EC" and bench.above(value, "slip_ec", "limit") and not _supported(bench, m):
        return ("slip_ec", "us_cm")
    low_calcium = m.analyte == "Ca" and m.unit == "mg/kg" and not bench.above(value, "slip_meq", "Ca_ppm")
    return ("slip_meq", "meq_for_mg_kg") if low_calcium else None


def _supported(bench: Bench, ec: Measurement) -> bool:
    """Whether the cations of the same extract are as many as so high an EC needs."""
    if ec.method != EXTRACT or not ec.value:
        return False
    cations = [bench.figure(ion, EXTRACT) for ion in ("Ca", "Mg", "Na")]
    total = sum(x for x in cations if x is not None)
    ratio = total / (bench.limits.cations_per_ec * ec.value)
    return bench.within(ratio, "ec_cations", "dilute_low", "saline_high")


def check_duplicates(bench: Bench) -> None:
    """Precision of a figure reported twice: relative difference, or plain difference for pH and texture."""
    seen: dict[tuple[str, str], Measurement] = {}
    for measurement in bench.case.soil:
        if measurement.value is None:
            continue
        earlier = seen.setdefault((measurement.analyte, measurement.method), measurement)
        if earlier is not measurement:
            _precision(bench, earlier, measurement)


def _precision(bench: Bench, earlier: Measurement, later: Measurement) -> None:
    first, second = earlier.value or 0.0, later.value or 0.0
    check, size, allowed = _allowed(bench, later, first, second)
    figures = {"analyte": Word("analyte", later.analyte), "first": first, "second": second, "difference": size}
    bench.report(check, "pass" if scaled(size) <= scaled(allowed) else "fail", figures)


def _allowed(bench: Bench, m: Measurement, first: float, second: float) -> tuple[str, float, float]:
    """The check, the difference and what is allowed; near the reporting limit the plain difference counts."""
    plain = abs(first - second)
    if m.analyte == "pH":
        return ("rpd_ph", plain, bench.limit("rpd_ph", "acceptable"))
    if m.analyte in FRACTIONS:
        return ("texture_repeat", plain, bench.limit("texture_repeat", "points"))
    least = m.spec.reporting_limit if m.spec else None
    if least and scaled(min(first, second)) < scaled(bench.limit("rpd", "limits_above") * least):
        return ("rpd", plain, bench.limit("rpd", "small_soil") * least)
    return ("rpd", difference_pct(first, second), bench.limit("rpd", "acceptable"))
