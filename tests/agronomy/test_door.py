"""The door: canonical forms and units, intervals, layers, and figures that cannot be true."""

from collections.abc import Callable
from datetime import date
from math import inf, nan
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.agronomy import door
from service.agronomy.door import Understood
from service.agronomy.findings import Word
from service.agronomy.sample import Measurement
from service.agronomy.submission import (
    Depth,
    IrrigationWater,
    Options,
    Quantity,
    Result,
    Sample,
    Site,
    Submission,
    Target,
)
from service.agronomy.tables import Library, MethodRow

DAY = date(2026, 4, 20)
EXTRACT = "saturated_paste_extract"
GOOD = (Result("pH", "saturated_paste", 7.8), Result("OM", "loss_on_ignition", 3.1, "%"))
type_of_door = Callable[..., Understood]


@pytest.fixture(scope="module")
def understand(library: Library) -> type_of_door:
    """Sends results through the door."""

    def send(*results: Result, sample: Sample | None = None, target: Target | None = None, **site: Any) -> Understood:
        options = site.pop("options", Options())
        submission = Submission(
            sample=sample or Sample(depth=Depth(0, 6, "in")),
            results=results,
            target=target or Target(),
            site=Site(**site),
            options=options,
        )
        return door.understand(submission, library, DAY)

    return send


def only(understood: Understood) -> Measurement:
    (measurement,) = understood.case.soil
    return measurement


def codes(understood: Understood) -> list[tuple[str, str]]:
    return [(reason.code, reason.severity) for reason in understood.reasons]


@pytest.mark.parametrize(
    ("result", "analyte", "value", "unit"),
    [
        (Result("NO3", "kcl_extract", 31, "mg/kg"), "NO3-N", 7.003, "mg/kg"),
        (Result("NO3-N", "kcl_extract", 7, "ppm"), "NO3-N", 7, "mg/kg"),
        (Result("P2O5", "olsen", 64, "mg/kg"), "P", 27.93, "mg/kg"),
        (Result("K2O", "ammonium_acetate", 400, "mg/kg"), "K", 332.06, "mg/kg"),
        (Result("K", "ammonium_acetate", 0.98, "meq/100 g"), "K", 383.16, "mg/kg"),
        (Result("CaCO3", "calcimeter", 4, "%"), "lime", 4, "%"),
        (Result("EC", EXTRACT, 1100, "uS/cm"), "EC", 1.1, "dS/m"),
        (Result("Na", EXTRACT, 920, "mg/L"), "Na", 40.018, "meq/L"),
        (Result("Ca", EXTRACT, 160, "ppm"), "Ca", 7.984, "meq/L"),
        (Result("Mg", EXTRACT, 3.95, "meq/L"), "Mg", 3.95, "meq/L"),
        (Result("OM", "loss_on_ignition", 31, "g/kg"), "OM", 3.1, "%"),
        (Result("S", "calcium_phosphate", 12, "mg/kg"), "SO4-S", 12, "mg/kg"),
        (Result("hydrometer_2h_temperature", None, 68, "degF"), "hydrometer_2h_temperature", 20, "Cel"),
    ],
)
def test_canonical_form_and_unit(
    understand: type_of_door, result: Result, analyte: str, value: float, unit: str
) -> None:
    """Forms by atomic masses (NO3 is 4.43 NO3-N, P2O5 2.291 P), units by definition."""
    found = only(understand(result))
    assert (found.analyte, found.unit) == (analyte, unit)
    assert found.value == pytest.approx(value, rel=1e-4)
    assert found.low == found.high == found.value
    assert found.reported is result


@pytest.mark.parametrize(("qualifier", "low", "high"), [("<", 0.0, 0.2), (">", 0.2, inf)])
def test_censored_values_are_intervals(understand: type_of_door, qualifier: str, low: float, high: float) -> None:
    """Below detection is somewhere from nothing to the limit, never zero (common practice)."""
    found = only(understand(Result("Zn", "dtpa", 0.2, "mg/kg", qualifier)))
    assert found.value is None
    assert not found.exact
    assert (found.low, found.high) == (low, high)


def test_words(understand: type_of_door) -> None:
    """A fizz word is kept as a word and stands for no figure."""
    found = only(understand(Result("lime", "acid_fizz", text="strong")))
    assert (found.text, found.value, found.unit) == ("strong", None, "")


@pytest.mark.parametrize(
    ("result", "code"),
    [
        (Result("lime", "acid_fizz", text="loud"), "word_unknown"),
        (Result("lime", "acid_fizz", 3), "word_expected"),
        (Result("K", "ammonium_acetate", text="low"), "figure_expected"),
        (Result("P", "olsen"), "value_missing"),
        (Result("P", "olsen", 12), "unit_missing"),
        (Result("P", "olsen", 12, "dS/m"), "unit_does_not_fit"),
        (Result("P", "olsen", 12, "firkin"), "unit_does_not_fit"),
        (Result("P", "olsen", nan, "mg/kg"), "not_a_number"),
        (Result("P", "olsen", inf, "mg/kg"), "not_a_number"),
    ],
)
def test_what_cannot_be_read_is_withheld(understand: type_of_door, result: Result, code: str) -> None:
    """Named, asked about, and out of reach; the rest stands."""
    found = understand(*GOOD, result)
    assert codes(found) == [(code, "withhold")]
    assert found.reasons[0].ask is not None
    assert found.reasons[0].pointer == "/results/2"
    assert found.case.voids[2].code == f"void.{code}"
    assert found.case.find(result.analyte) is None
    assert len(found.case.soil) == 3


TOP_SIX = Sample(depth=Depth(0, 6, "in"))


def test_per_area_with_the_density_stated(understand: type_of_door) -> None:
    """lb/acre at 6 in and the density of 2,000,000 lb an acre is twice the ppm."""
    density = Result("bulk_density", "core", 2e6 * 453.59237 / (4046.8564224 * 0.1524) / 1e6, "g/cm3")
    found = understand(Result("P", "olsen", 24, "lb/acre"), density)
    assert found.case.find("P") is not None
    assert found.case.find("P").value == pytest.approx(12, rel=1e-9)  # type: ignore[union-attr]
    assert codes(found) == []


def test_per_area_without_a_density_takes_the_usual_one_and_says_so(understand: type_of_door) -> None:
    """1.33 g/cm3 is 3.62 lb/acre for each ppm and foot of soil (the usual convention is 3.6: 2,000,000 lb per 6 2/3 in,
    bulk density 1.32); both layers are read by their own depth.
    """
    deeper = Result("NO3-N", "kcl_extract", 28, "lb/acre", depth=Depth(12, 24, "in"))
    top = Result("NO3-N", "kcl_extract", 44, "lb/acre")
    found = understand(*GOOD, top, deeper, sample=Sample(depth=Depth(0, 12, "in")))
    assert found.case.find("NO3-N").value == pytest.approx(44 / 3.617, rel=1e-3)  # type: ignore[union-attr]
    assert found.case.layers[0].value == pytest.approx(28 / 3.617, rel=1e-3)
    (reason,) = found.reasons
    assert (reason.code, reason.severity, reason.ask) == ("usual_density", "info", None)
    assert reason.values == {"analytes": (Word("analyte", "NO3-N"),), "density": Quantity(1.33, "g/cm3")}


def test_the_usual_density_is_said_only_of_what_was_read_with_it(understand: type_of_door) -> None:
    """Not of ppm, of irrigation water or of a result nobody could read."""
    assert codes(understand(*GOOD, Result("P", "olsen", 12, "ppm"), sample=TOP_SIX)) == []
    odd = understand(*GOOD, Result("P", "olsen", 12, "dS/m"), sample=TOP_SIX)
    assert codes(odd) == [("unit_does_not_fit", "withhold")]


def test_per_area_needs_a_depth(understand: type_of_door) -> None:
    found = understand(*GOOD, Result("P", "olsen", 12, "lb/acre"), sample=Sample())
    assert codes(found) == [("unit_does_not_fit", "withhold")]


@pytest.mark.parametrize(
    ("result", "severity", "slip"),
    [
        (Result("EC", EXTRACT, 1380, "dS/m"), "refuse", "us_cm"),
        (Result("EC", "water_1_2", 110, "dS/m"), "refuse", "us_cm"),
        (Result("pH", "water_1_2", 78), "refuse", "decimal"),
        (Result("pH", "water_1_2", 12.01), "refuse", None),
        (Result("P", "olsen", -4, "mg/kg"), "withhold", "sign"),
        (Result("P", "olsen", 3000, "mg/kg"), "withhold", "other_p"),
        (Result("P", "olsen", 28, "%"), "withhold", "percent_for_mg_kg"),
        (Result("OM", "loss_on_ignition", 310, "%"), "withhold", "decimal"),
        (Result("SP", "saturated_paste", 3, "%"), "withhold", "decimal"),
        (Result("Ca", "ammonium_acetate", 2400, "meq/100 g"), "withhold", "mg_kg_for_meq"),
        (Result("HCO3", EXTRACT, 244, "meq/L"), "withhold", "mg_l_for_meq_l"),
        (Result("NO3-N", "kcl_extract", 70_000, "mg/kg"), "withhold", "decimal"),
    ],
)
def test_impossible_figures(understand: type_of_door, result: Result, severity: str, slip: str | None) -> None:
    """Named with the likely slip and not corrected; a pH or EC everything hangs on refuses the whole."""
    found = understand(Result("K", "ammonium_acetate", 340, "mg/kg"), result)
    (reason,) = found.reasons
    assert reason.severity == severity
    assert reason.code == ("impossible_value_slip" if slip else "impossible_value")
    assert reason.values.get("slip") == (Word("slip", slip) if slip else None)
    assert reason.ask is not None
    assert found.case.find(result.analyte) is None
    assert found.case.soil[1].value is not None


def test_the_ends_of_what_is_possible(understand: type_of_door) -> None:
    """pH 2 and 12 and 100 % are possible; a hair beyond is not (common practice: 2 to 12)."""
    for value in (2.0, 12.0):
        assert codes(understand(Result("pH", "cacl2", value))) == []
    for value in (1.999999, 12.000001):
        assert codes(understand(*GOOD[1:], Result("pH", "cacl2", value))) == [("impossible_value", "refuse")]


def test_nothing_left_is_refused(understand: type_of_door) -> None:
    """An impossible figure alone leaves nothing to interpret."""
    found = understand(Result("P", "olsen", -4, "mg/kg"))
    assert codes(found) == [("impossible_value_slip", "withhold"), ("nothing_usable", "refuse")]


def test_kit_figures_do_not_refuse(understand: type_of_door) -> None:
    """An impossible kit figure is no reason to refuse a laboratory's report."""
    found = understand(*GOOD, Result("pH", "probe", 1.5))
    assert [severity for _, severity in codes(found)] == ["withhold"]


def test_unusual_figures_stay_in_use(understand: type_of_door) -> None:
    """Outside the plausible range but possible: kept with a mark, judged with the others later."""
    found = understand(*GOOD, Result("Zn", "dtpa", 38, "mg/kg"), Result("Fe", "dtpa", 0.4, "mg/kg"))
    assert found.reasons == ()
    assert set(found.case.weakened) == {2}
    assert found.case.find("Zn") is not None


def test_much_organic_matter_in_compost_is_no_surprise(understand: type_of_door) -> None:
    """25 % in compost is compost."""
    sample = Sample(depth=Depth(0, 6, "in"), material="compost")
    assert understand(Result("OM", "loss_on_ignition", 25, "%"), sample=sample).case.weakened == {}
    assert set(understand(Result("OM", "loss_on_ignition", 25, "%")).case.weakened) == {0}


def test_repeated_and_contradicting(understand: type_of_door) -> None:
    """The same twice counts once; two figures for one test count not at all; other methods and layers are no repeat."""
    same = understand(Result("P", "olsen", 28, "mg/kg"), Result("P", "olsen", 28, "ppm"))
    assert same.reasons == ()
    assert same.case.voids[1].code == "void.repeated"
    forms = understand(Result("NO3", "kcl_extract", 31, "mg/kg"), Result("NO3-N", "kcl_extract", 7, "mg/kg"))
    assert forms.reasons == ()
    other = understand(*GOOD, Result("P", "olsen", 28, "mg/kg"), Result("P", "olsen", 14, "mg/kg"))
    assert codes(other) == [("contradicting_results", "withhold")]
    assert set(other.case.voids) == {2, 3}
    assert other.case.find("P") is None
    apart = understand(
        Result("P", "olsen", 28, "mg/kg"),
        Result("P", "bray_p1", 14, "mg/kg"),
        Result("P", "olsen", 9, "mg/kg", depth=Depth(6, 12, "in")),
    )
    assert apart.reasons == ()


def test_censored_and_plain_figures_contradict(understand: type_of_door) -> None:
    """Below 0.2 and 1.8 cannot both be."""
    found = understand(*GOOD, Result("Zn", "dtpa", 1.8, "mg/kg"), Result("Zn", "dtpa", 0.2, "mg/kg", "<"))
    assert codes(found) == [("contradicting_results", "withhold")]


def test_layers(understand: type_of_door) -> None:
    """A result of the sampled layer is of the main layer whatever its unit; another depth is a layer of its own."""
    found = understand(
        Result("NO3-N", "kcl_extract", 9, "mg/kg"),
        Result("P", "olsen", 12, "mg/kg", depth=Depth(0, 15.24, "cm")),
        Result("NO3-N", "kcl_extract", 6, "mg/kg", depth=Depth(12, 24, "in")),
    )
    case = found.case
    assert case.depth_in == (0, 6)
    assert [m.analyte for m in case.soil] == ["NO3-N", "P"]
    assert [(m.analyte, m.value, m.depth_in) for m in case.layers] == [("NO3-N", 6, (12, 24))]
    assert case.find("NO3-N").value == 9  # type: ignore[union-attr]


def test_shallowest_named_layer_is_the_main_one(understand: type_of_door) -> None:
    """When only the results name depths, none is guessed: the top one is the sample's."""
    found = understand(
        Result("NO3-N", "kcl_extract", 6, "mg/kg", depth=Depth(12, 24, "in")),
        Result("NO3-N", "kcl_extract", 9, "mg/kg", depth=Depth(0, 12, "in")),
        sample=Sample(),
    )
    assert found.case.depth_in == (0, 12)
    assert [m.value for m in found.case.layers] == [6]


def test_no_depth_is_no_depth(understand: type_of_door) -> None:
    """Nobody said how deep: nothing is assumed, and a result with its own depth stands apart."""
    found = understand(GOOD[0], Result("P", "olsen", 9, "mg/kg", depth=Depth(0, 6, "in")), sample=Sample())
    assert found.case.depth_in is None
    assert [m.analyte for m in found.case.soil] == ["pH"]
    assert [m.analyte for m in found.case.layers] == ["P"]


@pytest.mark.parametrize(
    "depth", [Depth(8, 4, "in"), Depth(-1, 4, "in"), Depth(4, 4, "in"), Depth(0, 4, "lb"), Depth(0, inf, "in")]
)
def test_impossible_depths(understand: type_of_door, depth: Depth) -> None:
    """Top below bottom, negative, empty, or no length."""
    sampled = understand(*GOOD, sample=Sample(depth=depth))
    assert codes(sampled) == [("depth_impossible", "withhold")]
    assert sampled.case.depth_in is None
    single = understand(*GOOD, Result("P", "olsen", 9, "mg/kg", depth=depth))
    assert codes(single) == [("depth_impossible", "withhold")]
    assert single.case.find("P") is None


def test_a_doubted_layer_is_only_named(understand: type_of_door) -> None:
    """An impossible EC of another layer withholds that layer and not the report."""
    found = understand(*GOOD, Result("EC", EXTRACT, 1380, "dS/m", depth=Depth(12, 24, "in")))
    assert [severity for _, severity in codes(found)] == ["withhold"]
    assert found.case.layers == ()


def test_irrigation_water(understand: type_of_door) -> None:
    """Water takes the water sample's method; what cannot be true or contradicts itself is left out by name."""
    water = IrrigationWater(
        results=(
            Result("EC", None, 1.2, "dS/m"),
            Result("Na", "water_sample", 230, "mg/L"),
            Result("Cl", None, 3, "meq/L"),
            Result("Cl", None, 9, "meq/L"),
            Result("pH", None, 78),
        )
    )
    found = understand(*GOOD, irrigation_water=water)
    assert {m.analyte: m.method for m in found.case.water} == {"EC": "water_sample", "Na": "water_sample"}
    assert found.case.find_water("Na").value == pytest.approx(10.004, rel=1e-4)  # type: ignore[union-attr]
    assert codes(found) == [("contradicting_results", "withhold"), ("impossible_value_slip", "withhold")]
    assert found.reasons[0].pointer == "/site/irrigation_water/results/3"


def test_methods_that_need_not_be_said(understand: type_of_door) -> None:
    """SAR is of the saturation extract; an analyte with one method has that; all else is not stated."""
    found = understand(Result("SAR", None, 2), Result("P", None, 12, "mg/kg"), Result("hydrometer_2h", None, 15, "g/L"))
    assert [m.method for m in found.case.soil] == [EXTRACT, "not_stated", "hydrometer"]


def test_several_methods_and_none_said(library: Library) -> None:
    """Where a method must be named and none is, it stays not stated even when the tables lack such a row."""
    rows = tuple(row for row in library.rows("methods", MethodRow) if (row.analyte, row.method) != ("P", "not_stated"))
    bare = Library({**library.tables, "methods": rows}, library.editions, library.sources, library.crops)
    found = door.understand(Submission(Sample(), (Result("P", None, 12, "mg/kg"),), Target()), bare, DAY).case.soil[0]
    assert (found.method, found.spec) == ("not_stated", None)


def test_method_without_a_row_keeps_its_unit(understand: type_of_door) -> None:
    """A pair that the tables do not know is shown as sent, in the canonical form, and has no row to be rated by."""
    found = only(understand(Result("P2O5", "kjeldahl", 10, "mg/kg")))
    assert found.spec is None
    assert found.unit == "mg/kg"
    assert found.value == pytest.approx(4.364, rel=1e-3)


def test_dates_and_as_of(understand: type_of_door) -> None:
    """The day of issue stands in for a missing as_of; a day to come is asked about."""
    assert understand(*GOOD).case.as_of == DAY
    assert understand(*GOOD, options=Options(as_of=date(2025, 9, 1))).case.as_of == date(2025, 9, 1)
    late = understand(*GOOD, sample=Sample(taken_on=date(2026, 5, 1), received_on=DAY))
    assert codes(late) == [("date_in_future", "warning")]
    assert late.reasons[0].pointer == "/sample/taken_on"


def test_area(understand: type_of_door) -> None:
    """Any unit of area; one that cannot be gives no total."""
    assert understand(*GOOD, target=Target(area=Quantity(1, "acre"))).case.area_m2 == pytest.approx(4046.8564)
    assert understand(*GOOD).case.area_m2 is None
    for bad in (Quantity(0, "ft2"), Quantity(-5, "ft2"), Quantity(5, "lb"), Quantity(inf, "ft2")):
        found = understand(*GOOD, target=Target(area=bad))
        assert codes(found) == [("area_impossible", "withhold")]
        assert found.case.area_m2 is None


def test_crop(understand: type_of_door) -> None:
    """A crop of the library, or none."""
    assert understand(*GOOD, target=Target(crop="tomato")).case.crop.id == "tomato"  # type: ignore[union-attr]
    assert understand(*GOOD).case.crop is None


REPORT = [
    ("pH", "saturated_paste", 7.8, None),
    ("EC", EXTRACT, 1.1, "dS/m"),
    ("P", "olsen", 28.0, "mg/kg"),
    ("K", "ammonium_acetate", 340.0, "mg/kg"),
    ("Zn", "dtpa", 1.2, "mg/kg"),
    ("OM", "loss_on_ignition", 3.1, "%"),
]


@given(order=st.permutations(REPORT))
@settings(max_examples=30)
def test_row_order_does_not_matter(library: Library, order: list[tuple[str, str, float, str | None]]) -> None:
    """Each analyte is understood alike wherever it stands."""
    results = tuple(Result(a, m, v, u) for a, m, v, u in order)
    case = door.understand(Submission(Sample(), results, Target()), library, DAY).case
    assert {name: found[0].value for name, found in case.by_analyte.items()} == {a: v for a, _, v, _ in REPORT}


@given(missing=st.sampled_from([a for a, _, _, _ in REPORT]))
def test_missing_is_never_zero(library: Library, missing: str) -> None:
    """What was not sent is not there."""
    results = tuple(Result(a, m, v, u) for a, m, v, u in REPORT if a != missing)
    case = door.understand(Submission(Sample(), results, Target()), library, DAY).case
    assert case.find(missing) is None
    assert missing not in case.by_analyte


@given(value=st.floats(0.01, 1500))
def test_unit_change_changes_nothing(library: Library, value: float) -> None:
    """The same potassium in ppm, g/kg and meq/100 g is the same figure to nine digits."""
    spellings = [(value, "ppm"), (value / 1000, "g/kg"), (value / 390.983, "meq/100 g")]
    found = []
    for figure, unit in spellings:
        results = (Result("K", "ammonium_acetate", figure, unit),)
        found.append(door.understand(Submission(Sample(), results, Target()), library, DAY).case.soil[0].value)
    assert found[1:] == [pytest.approx(found[0], rel=1e-9)] * 2
