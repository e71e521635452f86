"""Compost and manure: salt first, then phosphorus, then enough; depth, waiting time, what they bring.

Limits are those of ``factors`` and ``application-limits``: no manure or compost from ECe 4 dS/m and above 60 mg/kg
Olsen P, only what the crop takes away above 30 (practice); 1 in of manure-based compost at once (S-CSU-GN243); 120
and 90 days from raw manure to harvest (7 CFR 205.203).
"""

from typing import Any

import pytest
from making import case_of
from plans import LB_ACRE, code, manured

from service.agronomy import caps
from service.agronomy.findings import Recommendation
from service.agronomy.organic_supply import supply
from service.agronomy.submission import OrganicInput, Quantity, Result
from service.agronomy.tables import Library

GARDEN: dict[str, Any] = {"crop": "vegetable-garden", "stage": None}


def soil(ece: float | None = 1, p: float | None = 12, om: float | None = None) -> list[Result]:
    sent = [
        None if ece is None else Result("EC", "saturated_paste_extract", ece, "dS/m"),
        None if p is None else Result("P", "olsen", p, "mg/kg"),
        None if om is None else Result("OM", "loss_on_ignition", om, "%"),
        Result("pH", "water_1_1", 7.6),
    ]
    return [result for result in sent if result is not None]


def answer(library: Library, request: str, *results: Result, **more: Any) -> Recommendation:
    found = manured(library, *results, requests=(request,), **{**GARDEN, **more})
    return next(item for item in found if item.subject == request)


@pytest.mark.parametrize("kind", ["compost", "manure"])
@pytest.mark.parametrize(
    ("ece", "p", "word", "why"),
    [
        (3.99, 12, "welcome", None),
        (4, 12, "do_not", "saline"),
        (12, 90, "do_not", "saline_and_p"),
        (1, 30, "welcome", None),
        (1, 30.1, "practice", "p_high"),
        (1, 60, "practice", "p_high"),
        (1, 60.1, "do_not", "p_overfull"),
        (None, 12, "practice", "test_first"),
        (1, None, "practice", "test_first"),
        (None, None, "practice", "test_first"),
    ],
)
def test_salt_then_phosphorus(
    library: Library, kind: str, ece: float | None, p: float | None, word: str, why: str | None
) -> None:
    """At, below and above each line; what was not tested is not taken to be all right."""
    item = answer(library, kind, *soil(ece, p))
    if word == "welcome":
        assert code(item) == f"{kind}_welcome"
        assert item.kind == ("amendment" if kind == "compost" else "practice")
    else:
        assert (item.kind, code(item), item.rate) == (word, f"{kind}_{why}", None)
    assert item.sources


def test_compost_by_the_inch_and_the_yard(library: Library) -> None:
    """WE34, S-DAIRYCOMP: one cubic yard covers 324 ft2 an inch deep; 3,240 ft2 take ten."""
    item = answer(library, "compost", *soil(), area=Quantity(3240, "ft2"))
    assert item.rate == (1, "in")
    assert item.for_area is not None
    assert item.for_area.value == pytest.approx(10, rel=1e-3)
    assert item.for_area.unit == "yd3"
    metric = answer(library, "compost", *soil(), area=Quantity(100, "m2"), options={"units": "metric"})
    assert metric.rate == (2.54, "cm")
    assert metric.for_area == (2.54, "m3")
    assert answer(library, "compost", *soil(), area=None).for_area is None


def test_compost_keeps_its_ceiling(library: Library) -> None:
    case = case_of(library, *soil(), **GARDEN, requests=("compost",))
    kept, reasons = caps.enforce(case, [answer(library, "compost", *soil())])
    assert (len(kept), reasons) == (1, ())


def test_enough_organic_matter_needs_no_compost(library: Library) -> None:
    """The goal for a garden is 4-5 % (practice); above it more adds salt and phosphorus."""
    assert code(answer(library, "compost", *soil(om=5.1))) == "compost_rich"
    assert code(answer(library, "compost", *soil(om=4.9))) == "compost_welcome"
    assert code(answer(library, "manure", *soil(om=5.1))) == "manure_welcome"


def test_standing_plants_get_it_on_top(library: Library) -> None:
    lawn = answer(library, "compost", *soil(), crop="tall-fescue-lawn", stage="established")
    assert (lawn.kind, lawn.rate, code(lawn)) == ("practice", None, "compost_turf")
    assert code(answer(library, "compost", *soil(), crop="apple")) == "compost_surface"


def test_raw_manure_waits_where_food_grows(library: Library) -> None:
    """7 CFR 205.203: 120 days where the edible part touches the soil, else 90."""
    found = manured(library, *soil(), requests=("manure",), **GARDEN)
    wait = next(item for item in found if code(item) == "manure_wait")
    days = [(wait.text.values[name] - wait.text.values["today"]).days for name in ("touching_day", "off_day")]
    assert days == [120, 90]
    assert (wait.text.values["touching"], wait.text.values["off"]) == (120, 90)
    assert wait.sources == ("S-7CFR205",)
    flowers = manured(library, *soil(), requests=("manure",), crop="perennial-flower-bed", stage=None)
    assert "manure_wait" not in [code(item) for item in flowers]
    refused = manured(library, *soil(ece=6), requests=("manure",), **GARDEN)
    assert [code(item) for item in refused] == ["manure_saline"]


@pytest.mark.parametrize(
    ("depth", "unit", "deep"), [(1, "in", False), (2.54, "cm", False), (1.01, "in", True), (3, "in", True)]
)
def test_too_deep_at_once(library: Library, depth: float, unit: str, deep: bool) -> None:
    """S-CSU-GN243: at most an inch of manure-based compost at once."""
    put_on = (OrganicInput("steer_manure", Quantity(depth, unit), per="year"),)
    item = manured(library, *soil(), organic_inputs=put_on, **GARDEN)[0]
    assert (code(item) == "manure_too_deep") is deep
    assert (item.kind == "do_not") is deep


def test_what_litter_brings(library: Library) -> None:
    """S-MIDATL9: broiler litter 59-63-40 lb a ton; S-PNW533: 45 % of the N in the season. 2 tons an acre."""
    put_on = OrganicInput("poultry_manure", amount=Quantity(2, "ton/acre"), per="year")
    case = case_of(library, *soil(), organic_inputs=(put_on,), **GARDEN)
    brought = supply(case, put_on)
    assert brought is not None
    assert pytest.approx(118 * LB_ACRE) == brought.N
    assert pytest.approx(126 * LB_ACRE) == brought.P2O5
    assert pytest.approx(80 * LB_ACRE) == brought.K2O
    assert brought.N_first_season == pytest.approx(0.45 * 118 * LB_ACRE)
    told = manured(library, *soil(), organic_inputs=(put_on,), **GARDEN)
    (item,) = [item for item in told if code(item).startswith("organic_supplies")]
    assert code(item) == "organic_supplies_first_season_with_p"


def test_a_depth_or_an_unknown_analysis_brings_no_figure(library: Library) -> None:
    """Nobody published a density to turn inches into pounds, nor the phosphorus of steer manure: gaps stay gaps."""
    case = case_of(library, *soil(), **GARDEN)
    assert supply(case, OrganicInput("steer_manure", Quantity(1, "in"))) is None
    assert supply(case, OrganicInput("steer_manure", amount=Quantity(3, "gal"))) is None
    steer = supply(case, OrganicInput("steer_manure", amount=Quantity(4, "ton/acre")))
    assert steer is not None
    assert steer.P2O5 is None
    assert pytest.approx(0.005 * 8000 * LB_ACRE) == steer.N


def test_woody_mulch_stays_on_top(library: Library) -> None:
    """S-ALBERTA-CN: above a C:N of 30 an amendment ties nitrogen up."""
    found = manured(library, *soil(), organic_inputs=(OrganicInput("wood_chips"),), **GARDEN)
    assert [code(item) for item in found] == ["mulch_on_top"]
    assert found[0].text.values["ratio"] == 30


@pytest.mark.parametrize(("p", "why"), [(12, "organic_only"), (31, "organic_only_meals"), (90, "organic_only_meals")])
def test_organic_sources_only(library: Library, p: float, why: str) -> None:
    """Where phosphorus is ample, meals instead of manure and compost."""
    for more in ({"requests": ("organic_only",)}, {"condition": {"organic_only": True}}):
        (item,) = manured(library, *soil(p=p), **GARDEN, **more)
        assert (item.subject, code(item)) == ("N", why)


def test_nothing_asked_nothing_said(library: Library) -> None:
    assert manured(library, *soil(), **GARDEN) == []
    assert manured(library, *soil(), crop=None, requests=("compost",)) == []
