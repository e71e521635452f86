"""Checks of soil figures against each other: texture, pH with lime and sodium, exchange, organic matter, nitrate."""

from itertools import pairwise

from service.agronomy.bench import EXTRACT, Bench
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Word
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case, Measurement
from service.agronomy.texture import LABORATORY, fractions_of
from service.agronomy.triangle import Triangle, complete
from service.agronomy.units import ATOMIC_MASS, difference_pct, scaled

PH_METHODS = ("saturated_paste", "water_1_1", "water_1_2", "water_1_5", "not_stated")
FIZZ_NONE = "none"
FIZZ_STRONG = frozenset(("strong", "violent"))
LIME_FIGURES = ("calcimeter", "acid_neutralization", "not_stated")
DISPLACEMENT = ("displacement", "ammonium_acetate_displacement", "sodium_acetate_displacement")
DILUTIONS = ("saturated_paste_extract", "water_1_1", "water_1_2", "water_1_5")
NITRATE = ("kcl_extract", "calcium_sulfate_extract", "calcium_chloride_extract", "water_extract")


def check_soil(bench: Bench) -> None:
    """The checks of the main layer that its results allow; those that only inform where explanations are asked for."""
    by_analyte = bench.case.by_analyte
    if "clay" in by_analyte or "sand" in by_analyte:
        check_texture(bench)
    if "lime" in by_analyte and "pH" in by_analyte:
        check_fizz(bench)
    if "CEC" in by_analyte:
        check_exchange(bench)
    if len(by_analyte.get("EC", ())) > 1:
        check_dilutions(bench)
    if bench.case.explain:
        inform(bench)


def inform(bench: Bench) -> None:
    """Checks from which nothing follows but a remark."""
    by_analyte = bench.case.by_analyte
    if "pH" in by_analyte:
        check_reaction(bench)
    if "ESP" in by_analyte:
        check_sodium(bench)
    if "OM" in by_analyte:
        check_organic_matter(bench)
    if "SP" in by_analyte:
        check_saturation(bench)


def check_texture(bench: Bench) -> None:
    """Three fractions add up to 100; the class named is the one they give, or a neighbour."""
    found = fractions_of(bench.case, LABORATORY)
    shares = [m.value if m else None for m in found]
    given = [x for x in shares if x is not None]
    if len(given) < 2:
        if given:
            bench.report("texture_sum", "not_possible", {"given": len(given)})
        return
    total = sum(given)
    off = 100 - total if len(given) == 3 else min(0.0, 100 - total)
    figures = {"sum": total}
    if bench.above(abs(off), "texture_sum", "rescale"):
        bench.report("texture_sum", "fail", figures)
        bench.reason("texture_sum", "withhold", "texture", figures)
        bench.void(found, "texture_sum", figures)
        return
    if len(given) == 3:
        bench.compare("texture_sum", not bench.above(abs(off), "texture_sum", "rounding"), figures)
    _texture_class(bench, shares)


def _texture_class(bench: Bench, shares: list[float | None]) -> None:
    stated = bench.case.find("texture")
    triangle = bench.case.library.index(Triangle.of)
    if stated is None or not stated.text or stated.text not in triangle.sources:
        return
    try:
        point = complete(*shares)
    except OutOfRange:
        return
    computed = triangle.classify(*point)
    figures = {"stated": Word("texture", stated.text), "computed": Word("texture", computed)}
    near = (computed, *triangle.near(*point, points=bench.limit("texture_class", "points")))
    if not bench.compare("texture_class", stated.text in near, figures):
        bench.reason("texture_class", "warning", "texture", figures)


def check_fizz(bench: Bench) -> None:
    """pH against the acid fizz: lime that fizzes holds the pH up, and at pH 8 lime is expected."""
    fizz, found = bench.case.find("lime", "acid_fizz"), bench.case.find("pH", *PH_METHODS)
    if fizz is None or fizz.text is None or found is None or found.value is None:
        return
    pH = scaled(found.value)
    quiet = fizz.text == FIZZ_NONE and pH >= scaled(bench.limit("ph_lime", "none_from_pH"))
    loud = fizz.text in FIZZ_STRONG and pH < scaled(bench.limit("ph_lime", "strong_below_pH"))
    figures = {"pH": found.value, "fizz": Word("acid_fizz", fizz.text)}
    if not bench.compare("ph_lime", not (quiet or loud), figures):
        bench.reason("ph_lime", "warning", "lime", figures)


def check_reaction(bench: Bench) -> None:
    """pH against the percentage of lime and against sodium."""
    found = bench.case.find("pH", *PH_METHODS)
    if found is None or found.value is None:
        return
    lime = bench.figure("lime", *LIME_FIGURES)
    if lime is not None:
        limy = bench.above(lime, "ph_calcite", "lime")
        good = not (limy and scaled(found.value) < scaled(bench.limit("ph_calcite", "below_pH")))
        bench.compare("ph_calcite", good, {"pH": found.value, "lime": lime})
    _ph_sodium(bench, found)


def _ph_sodium(bench: Bench, pH: Measurement) -> None:
    """A pH above 8.5 usually means sodium carbonate; a sodic soil below it is possible and no error."""
    sar = sar_of(bench)
    if sar is None or pH.value is None:
        return
    shift = bench.limit("ph_sodium", "dilution_shift") if pH.method == "water_1_2" else 0.0
    paste = pH.value - shift
    esp = bench.figure("ESP")
    figures = {"pH": pH.value, "SAR": sar}
    if bench.above(paste, "ph_sodium", "pH"):
        low = not bench.above(sar, "ph_sodium", "sar") and (esp is None or not bench.above(esp, "ph_sodium", "esp"))
        bench.compare("ph_sodium", not low, figures)
        return
    ec = bench.figure("EC", EXTRACT)
    if ec is not None and bench.above(sar, "ph_sodic_low", "sar") and not bench.above(ec, "ph_sodic_low", "ec"):
        bench.report("ph_sodic_low", "pass", {**figures, "ec": ec})


def sar_of(bench: Bench) -> float | None:
    """SAR of the saturation extract, reported or from its cations."""
    reported = bench.figure("SAR", EXTRACT, "computed")
    if reported is not None:
        return reported
    sodium, calcium, magnesium = (bench.figure(ion, EXTRACT) for ion in ("Na", "Ca", "Mg"))
    if sodium is None or calcium is None or magnesium is None or calcium + magnesium <= 0:
        return None
    return float(sodium / ((calcium + magnesium) / 2) ** 0.5)


def check_sodium(bench: Bench) -> None:
    """A measured ESP against the one that SAR leads one to expect (HB60); clamped to 0 below SAR 0.85."""
    esp, sar = bench.figure("ESP", "exchangeable", "not_stated"), sar_of(bench)
    if esp is None or sar is None:
        return
    line = reference_of(bench.case.library).formula("esp_sar").coefficients
    ratio = max(0.0, line["a"] + line["b"] * sar)
    expected = 100 * ratio / (1 + ratio)
    figures = {"esp": esp, "sar": sar, "expected": expected}
    bench.compare("esp", not bench.above(abs(esp - expected), "esp", "points"), figures)


def check_exchange(bench: Bench) -> None:
    """CEC against the bases, clay and organic matter; a sum of bases in limy soil is no CEC."""
    cec = bench.figure("CEC", *DISPLACEMENT, "not_stated")
    if cec:
        _bases(bench, cec)
        if bench.case.explain:
            _clay_and_om(bench, cec)
            _soluble_sodium(bench)
    summed = bench.case.find("CEC", "sum_of_bases")
    if summed is not None and summed.value is not None:
        figures = {"cec": summed.value}
        if is_limy(bench):
            bench.report("cec_reported", "warn", figures)
            bench.void((summed,), "cec_reported", figures)


def is_limy(bench: Bench) -> bool:
    """Whether free lime was found; an untested soil is not called limy here."""
    fizz = bench.case.find("lime", "acid_fizz")
    if fizz is not None and fizz.text not in (None, FIZZ_NONE, "very_slight"):
        return True
    lime = bench.figure("lime", *LIME_FIGURES)
    limit = reference_of(bench.case.library).factor("free_lime_threshold_pct").value
    return lime is not None and scaled(lime) >= scaled(limit)


def exchange_meq_100_g(bench: Bench, analyte: str) -> float | None:
    """Ammonium acetate extractable cation, meq/100 g, from mg/kg."""
    found = bench.figure(analyte, "ammonium_acetate")
    equivalent = bench.vocabulary.analytes[analyte].equivalent_weight_g
    return None if found is None or not equivalent else found / equivalent / 10


def _bases(bench: Bench, cec: float) -> None:
    bases = {name: exchange_meq_100_g(bench, name) for name in ("Ca", "Mg", "K", "Na")}
    calcium, magnesium = bases["Ca"], bases["Mg"]
    if calcium is None or magnesium is None:
        return
    total = sum(x for x in bases.values() if x is not None)
    share = 100 * total / cec
    figures = {"bases": total, "cec": cec, "share_pct": share}
    if bench.above(share, "cec_bases", "unit_slip"):
        bench.report("cec_bases", "fail" if not is_limy(bench) else "warn", figures)
        if not is_limy(bench):
            bench.reason("cec_bases", "warning", "CEC", figures)
        return
    bench.compare("cec_bases", not bench.above(share, "cec_bases", "dissolved"), figures)


def _clay_and_om(bench: Bench, cec: float) -> None:
    clay, om = bench.figure("clay", *LABORATORY), bench.figure("OM")
    if clay is None or om is None:
        return
    row = reference_of(bench.case.library).formula("cec_clay_om").coefficients
    expected = row["clay"] * clay + row["OM"] * om
    if expected <= 0:
        return
    figures = {"cec": cec, "expected": expected, "ratio": cec / expected}
    bench.compare("cec_clay_om", bench.within(cec / expected, "cec_clay_om", "low", "high"), figures)


def _soluble_sodium(bench: Bench) -> None:
    """Extracted sodium holds the soluble part: taking it off leaves nothing negative."""
    extracted, soluble = exchange_meq_100_g(bench, "Na"), bench.figure("Na", EXTRACT)
    saturation = bench.figure("SP")
    if extracted is None or soluble is None or saturation is None:
        return
    rest = extracted - soluble * saturation / 1000
    figures = {"extracted": extracted, "soluble": soluble * saturation / 1000, "rest": rest}
    bench.compare("cec_soluble", scaled(rest) >= 0, figures)


def check_organic_matter(bench: Bench) -> None:
    """Organic matter against total nitrogen and nitrate."""
    om = bench.figure("OM")
    if not om:
        return
    nitrogen = bench.figure("total_N")
    if nitrogen:
        ratio = om / reference_of(bench.case.library).formula("c_n_ratio").coefficients["k"] / nitrogen
        figures = {"om": om, "nitrogen": nitrogen, "ratio": ratio}
        bench.compare("om_n", bench.within(ratio, "om_n", "flag_low", "flag_high"), figures)
    nitrate = bench.figure("NO3-N", *NITRATE)
    if nitrate is not None:
        figures = {"om": om, "nitrate": nitrate}
        bench.compare("om_n_min", not bench.above(nitrate / om, "om_n_min", "per_percent"), figures)


def check_saturation(bench: Bench) -> None:
    """Saturation percentage against texture; nitrate in the paste water against EC."""
    saturation = bench.figure("SP")
    if not saturation:
        return
    _saturation_texture(bench, saturation)
    nitrate, ec = bench.figure("NO3-N", *NITRATE), bench.figure("EC", EXTRACT)
    if nitrate is None or not ec:
        return
    nitrate_meq = nitrate / saturation * 100 / ATOMIC_MASS["N"]
    share = 100 * nitrate_meq / (bench.limits.cations_per_ec * ec)
    figures = {"nitrate_meq_L": nitrate_meq, "ec": ec, "share_pct": share}
    bench.compare("ec_no3", not bench.above(share, "ec_no3", "share"), figures)


def _saturation_texture(bench: Bench, saturation: float) -> None:
    triangle = bench.case.library.index(Triangle.of)
    name = _class_name(bench.case, triangle)
    row = triangle.properties.get(name) if name else None
    if row is None:
        return
    om = bench.figure("OM")
    if om is not None and bench.above(om, "sp_texture", "om_raises_above"):
        return
    margin = bench.limit("sp_texture", "points")
    low, high = row.saturation_pct_low - margin, row.saturation_pct_high + margin
    figures = {"saturation": saturation, "texture": Word("texture", row.texture), "low": low, "high": high}
    bench.compare("sp_texture", scaled(low) <= scaled(saturation) <= scaled(high), figures)


def _class_name(case: Case, triangle: Triangle) -> str | None:
    try:
        return triangle.classify(*complete(*(m.value if m else None for m in fractions_of(case, LABORATORY))))
    except OutOfRange:
        stated = case.find("texture")
        return stated.text if stated else None


def check_dilutions(bench: Bench) -> None:
    """The more water, the lower the EC; reversed by more than duplicates differ, a unit or a label slipped."""
    found = [bench.case.find("EC", method) for method in DILUTIONS]
    given = [m for m in found if m is not None and m.value is not None]
    if len(given) < 2:
        return
    values = [m.value for m in given if m.value is not None]
    figures = {"methods": tuple(Word("method", m.method) for m in given), "values": tuple(values)}
    reversed_by = [difference_pct(a, b) for a, b in pairwise(values) if scaled(a) < scaled(b)]
    if not reversed_by:
        bench.report("ec_dilution", "pass", figures)
    elif not bench.above(max(reversed_by), "rpd", "acceptable"):
        bench.report("ec_dilution", "warn", figures)
    else:
        bench.report("ec_dilution", "fail", figures)
        bench.reason("ec_dilution", "withhold", "EC", figures)
        bench.void(given, "ec_dilution", figures)
