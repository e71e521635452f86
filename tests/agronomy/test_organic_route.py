"""Manure and compost measured out: by nitrogen, by phosphate and by salt, the smallest counts.

Montana State worksheet (S-MSU-MANURE, land application, step 5): 8.53 lb available N a ton; 160 lb N, 50 lb P2O5 and
75 lb K2O an acre take 18.8, 2.8 and 2.9 tons. Garden lists of Texas (S-TAMU-ORG) and of the Mid-Atlantic
(S-MIDATL9); release in later years by Cornell (cornell-manure). 20 tons an acre as the salt line is common practice.
"""

from typing import Any

import pytest
from making import case_of, judged
from plans import LB_ACRE, code, dosed

from service.agronomy import caps, organic
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Recommendation
from service.agronomy.materials.organic_route import (
    Rates,
    analysis_of,
    rate_by,
    volume,
)
from service.agronomy.organic_supply import available_nitrogen
from service.agronomy.ratings import rate
from service.agronomy.submission import OrganicInput, Quantity, Result
from service.agronomy.tables import Library

GARDEN: dict[str, Any] = {"crop": "vegetable-garden", "stage": None}
TON_ACRE = 2000 * LB_ACRE


def soil(p: float = 6, ece: float = 1) -> list[Result]:
    return [
        Result("EC", "saturated_paste_extract", ece, "dS/m"),
        Result("P", "olsen", p, "mg/kg"),
        Result("pH", "water_1_1", 7.6),
        Result("NO3-N", "kcl_extract", 5, "mg/kg"),
    ]


def measured(library: Library, *results: Result, **more: Any) -> list[Recommendation]:
    case = case_of(library, *results, **{**GARDEN, **more})
    plan = dosed(case).recommendations
    salts = judged(case)[0]
    return organic.recommend(case, rate(case).findings, salts, plan)


def test_the_worksheet_of_montana() -> None:
    """WE21 and WE22: the rate by nitrogen carries near seven times the phosphate needed, so phosphate caps it."""
    per_ton = available_nitrogen(21, 8, 0, 0.25, 0.66)
    assert per_ton == pytest.approx(8.53)
    by_N, by_P2O5, by_K2O = rate_by(160, per_ton), rate_by(50, 18), rate_by(75, 26)
    assert (round(by_N, 1), round(by_P2O5, 1), round(by_K2O, 1)) == (18.8, 2.8, 2.9)
    assert by_N * 18 / 50 == pytest.approx(6.75, abs=0.01)
    assert Rates(by_N, by_P2O5, None).smallest() == (by_P2O5, "p")


def test_which_limit_counts() -> None:
    assert Rates(3, 5, 4).smallest() == (3, "n")
    assert Rates(3, 5, 2).smallest() == (2, "salt")
    assert Rates(None, 5, 5).smallest() == (5, "p")
    assert Rates(None, None, None).smallest() is None


@pytest.mark.parametrize(("need", "content"), [(-1, 2), (1, 0), (1, -3)])
def test_a_rate_needs_a_need_and_a_content(need: float, content: float) -> None:
    with pytest.raises(OutOfRange):
        rate_by(need, content)


def test_litter_is_capped_by_phosphate(library: Library) -> None:
    """59 lb N (45 % in the season) and 63 lb P2O5 a ton: on soil short of both the phosphate need is met first."""
    litter = (OrganicInput("poultry_manure"),)
    found = measured(library, *soil(), requests=("manure",), organic_inputs=litter)
    item, brings = found[0], found[1]
    assert (item.kind, item.subject, code(item)) == ("amendment", "manure", "organic_amount_by_p")
    case = case_of(library, *soil(), **GARDEN)
    need = next(each for each in dosed(case).recommendations if each.subject == "P2O5").base_rate
    assert need is not None
    assert item.base_rate == pytest.approx(need / (63 / 2000))
    assert code(brings) == "organic_brings"
    assert brings.text.values["P2O5"].value == pytest.approx(case.units.rate(need).value, rel=0.05)
    assert item.sources
    assert [step.step for step in item.because][-1] == "organic_rate"


def test_what_it_still_gives_later(library: Library) -> None:
    """cornell-manure: 12 % of the organic nitrogen in the second year, 5 % in the third. Sheep manure: 0.9 % N."""
    found = measured(library, *soil(), requests=("manure",), organic_inputs=(OrganicInput("sheep_manure"),))
    brings = next(item for item in found if code(item).startswith("organic_brings"))
    later = brings.text.values["more"]
    nitrogen = found[0].rate.value * 0.009 if found[0].rate else 0.0
    assert later.values["second"].value == pytest.approx(nitrogen * 0.12, rel=0.03)
    assert later.values["third"].value == pytest.approx(nitrogen * 0.05, rel=0.03)
    assert "cornell-manure" in brings.sources


def test_salt_caps_a_weak_manure(library: Library) -> None:
    """Horse manure feeds no nitrogen in its season (S-PNW533): by phosphate it could be more than 20 tons an acre."""
    found = measured(library, *soil(p=3), requests=("manure",), organic_inputs=(OrganicInput("horse_manure"),))
    item = found[0]
    assert code(item) == "organic_amount_by_salt"
    assert item.base_rate == pytest.approx(20 * TON_ACRE)
    assert item.text.values["by_n"].code == "rec.organic_by_n_none"
    case = case_of(library, *soil(), **GARDEN)
    assert caps.enforce(case, [item]) == ([item], ())


def test_no_manure_for_feeding_where_phosphorus_is_enough(library: Library) -> None:
    """Below the line of removal (Olsen 30), but the plan asks for no phosphate: manure is no fertilizer here."""
    found = measured(library, *soil(p=28), requests=("manure",))
    assert [(item.kind, code(item)) for item in found] == [("none_needed", "manure_p_enough")]


@pytest.mark.parametrize(("p", "ece", "why"), [(6, 4, "manure_saline"), (90, 1, "manure_p_overfull")])
def test_no_amount_on_salty_or_overfull_ground(library: Library, p: float, ece: float, why: str) -> None:
    found = measured(library, *soil(p, ece), requests=("manure",))
    assert [code(item) for item in found] == [why]
    assert all(item.rate is None for item in found)


def test_organic_only_hears_how_far_manure_goes(library: Library) -> None:
    """As an option, not as a dose on top of the plan; with the waiting time of 7 CFR 205.203 where food grows."""
    found = measured(library, *soil(), requests=("organic_only",))
    assert [item.kind for item in found] == ["practice"] * 4
    assert code(found[-1]) == "manure_wait"
    assert any(code(item).startswith("organic_amount") for item in found)
    barred = measured(library, *soil(p=40), requests=("organic_only",))
    assert [code(item) for item in barred] == ["organic_only_meals"]


def test_a_layer_of_compost_is_not_the_fertilizer(library: Library) -> None:
    """One inch at 0.55 kg/L and 0.5 % P2O5 (practice): 25.4 x 0.55 x 0.005 = 69.85 g/m2, 14 lb per 1,000 ft2."""
    found = measured(library, *soil(), requests=("compost",))
    told = next(item for item in found if code(item) == "compost_layer_brings")
    assert told.text.values["P2O5"] == Quantity(14, "lb/1000 ft2")
    assert told.text.values["times"] > 1
    enough = measured(library, *soil(p=28), requests=("compost",))
    assert code(enough[-1]) == "compost_layer_none_needed"


def test_gaps_stay_gaps(library: Library) -> None:
    """No density of litter and no analysis of turkey manure's share in the season was published."""
    assert analysis_of(library, "poultry_manure").density is None
    turkey = analysis_of(library, "turkey_manure")
    assert (turkey.N_first, turkey.density) == (None, None)
    assert pytest.approx(25 / 2000) == turkey.P2O5


def test_volumes_are_told_in_what_is_sold(library: Library) -> None:
    """One cubic yard is 0.764555 m3 and 27 cubic feet (exact)."""
    case = case_of(library, *soil(), **GARDEN)
    assert volume(case, 0.764554857984 * 2) == Quantity(2, "yd3")
    assert volume(case, 0.764554857984 / 3) == Quantity(9, "ft3")
    metric = case_of(library, *soil(), options={"units": "metric"}, **GARDEN)
    assert volume(metric, 2.5) == Quantity(2.5, "m3")
    assert volume(metric, 0.25) == Quantity(250, "L")
