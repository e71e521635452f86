"""The lay page: one verdict, three to five actions in order, no word against a caution, a month to test again.

Retest after three years where nothing is unusual, after one where something is: western land-grant sampling guides
(Colorado: every 2-3 years) and common practice.
"""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from making import DAY, LAWN_RESULTS, case_of, dose, judged, plain

from service.agronomy import cautions, ratings, summary
from service.agronomy.actions import action
from service.agronomy.do_nots import BARRED
from service.agronomy.findings import Application, Caution, Finding, Note, Reason, Recommendation, Summary, Word
from service.agronomy.page import HEALTH
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity, Result, Well
from service.agronomy.tables import Library

GARDEN = "vegetable-garden"


def summed(
    case: Case,
    *given: Recommendation,
    outcome: str = "released",
    reasons: tuple[Reason, ...] = (),
    warned: tuple[Caution, ...] | None = None,
) -> Summary:
    salts, exchangeable, acidity = judged(case)
    findings = ratings.rate(case).findings
    if warned is None:
        warned = cautions.gather(case, findings, salts, exchangeable, acidity, None, given)
    return summary.summarize(case, outcome, findings, salts, exchangeable, acidity, given, warned, reasons)


def without(*analytes: str) -> tuple[Result, ...]:
    return tuple(item for item in LAWN_RESULTS if item.analyte not in analytes)


def verdict(case: Case, *given: Recommendation, **more: Any) -> str:
    return summed(case, *given, **more).verdict.code.removeprefix("summary.verdict_")


def action_codes(page: Summary) -> list[str]:
    return [note.code for note in page.actions]


def beside(page: Summary) -> list[str]:
    """Codes of the clauses that a verdict brings with it."""
    found, rest = [], page.verdict.values.get("more", "")
    while rest:
        first = rest.values["first"] if rest.code == "summary.also" else rest
        found.append(first.code.removeprefix("summary.also_"))
        rest = rest.values["rest"] if rest.code == "summary.also" else ""
    return found


def said(kind: str, subject: str, code: str, **values: Any) -> Recommendation:
    return replace(plain(kind, subject), text=Note(code, values))


def warning(code: str, severity: str = "danger", consult: tuple[str, ...] = ("health_department",)) -> Caution:
    return Caution(code, severity, {}, consult, ("practice",), "practice")


# --- verdict ------------------------------------------------------------------------------------------------------


def test_an_ordinary_lawn(library: Library) -> None:
    case = case_of(library)
    page = summed(case, dose(case, "N", 3, split=3), plain("none_needed", "P2O5"), plain("none_needed", "K2O"))
    assert page.verdict.code == "summary.verdict_only_nitrogen"
    assert action_codes(page) == [
        "summary.apply_area_split",
        "summary.skip",
        "summary.test_again",
        "summary.keep_report",
    ]
    assert page.verdict.values == {"more": ""}
    assert [note.code for note in page.do_not] == ["do_not.lime"]
    assert page.retest == "2029-04"
    assert page.contact.code == "summary.contact"


def test_verdicts_of_the_outcome_come_first(library: Library) -> None:
    case = case_of(library)
    assert verdict(case, outcome="refused") == "refused"
    assert verdict(case, outcome="held") == "held"
    assert verdict(case, outcome="held", warned=(warning("lead_level"),)) == "held_urgent"
    assert verdict(case, outcome="refused", warned=(warning("lead_level"),)) == "refused"
    assert verdict(case_of(library, crop=None)) == "ratings_only"
    assert verdict(case_of(library, crop=None), warned=(warning("lead_level"),)) == "caution_first"


@pytest.mark.parametrize("code", sorted(HEALTH))
def test_a_caution_about_health_comes_before_the_soil(library: Library, code: str) -> None:
    page = summed(case_of(library), warned=(warning(code),))
    assert page.verdict.code == "summary.verdict_caution_first"
    assert page.contact == Note("summary.contact_danger", {"who": (Note("consult.health_department"),)})


def test_a_caution_about_work_does_not(library: Library) -> None:
    page = summed(case_of(library), warned=(warning("call_811", consult=("811",)),))
    assert page.verdict.code == "summary.verdict_nothing_needed"
    assert page.contact.code == "summary.contact"


def test_sodium_before_plant_before_salt(library: Library) -> None:
    sodic = (*without("SAR"), Result("SAR", "saturated_paste_extract", 20))
    salty = (*without("EC"), Result("EC", "saturated_paste_extract", 12, "dS/m"))
    both = (*without("SAR", "EC"), *salty[-1:], *sodic[-1:])
    unsuited = plain("not_suited", "crop_choice")
    assert verdict(case_of(library, *sodic), unsuited) == "sodic"
    assert verdict(case_of(library, *both), unsuited) == "saline_sodic"
    assert verdict(case_of(library, *salty), unsuited) == "not_suited"
    assert verdict(case_of(library, *salty), plain("not_suited", "gypsum")) == "saline"


def test_salt_that_costs_yield_names_what_is_left(library: Library) -> None:
    """Bean: threshold 1.0 dS/m, 19 % per dS/m (Maas 1990): 2 dS/m leaves 81 %."""
    bean = {"crop": "snap-bean", "stage": None}
    page = summed(case_of(library, *without("EC"), Result("EC", "saturated_paste_extract", 2, "dS/m"), **bean))
    assert page.verdict == Note("summary.verdict_salt_costs_yield", {"yield": 81.0})
    estimated = case_of(library, *without("EC"), Result("EC", "water_1_2", 1.1, "dS/m"), texture="sandy_loam", **bean)
    assert verdict(estimated) == "salt_costs_yield_estimate"


def test_salt_without_a_yield_curve(library: Library) -> None:
    """4 dS/m and more is a saline soil (USDA Handbook 60); flower beds have no published curve."""
    bed = {"crop": "perennial-flower-bed", "stage": None}
    salty = case_of(library, *without("EC"), Result("EC", "saturated_paste_extract", 5, "dS/m"), **bed)
    assert verdict(salty) == "saline"
    low = summed(case_of(library, *without("EC"), Result("EC", "saturated_paste_extract", 1, "dS/m"), **bed))
    assert low.verdict.code == "summary.verdict_excess"
    assert low.verdict.values["excess"] == (Word("analyte", "P"),)
    assert "salt" not in beside(low)


def test_suspected_sodium_is_tested_first(library: Library) -> None:
    case = case_of(library, Result("pH", "saturated_paste", 9.0), symptoms=("ponding",))
    page = summed(case, dose(case, "N", 1))
    assert page.verdict.code == "summary.verdict_sodium_suspected"
    assert page.actions[0].code == "ask.sodium"
    assert page.retest == "2027-04"


def test_lime_that_keeps_the_pH(library: Library) -> None:
    case = case_of(library, requests=("lower_ph",))
    assert verdict(case) == "pH_stays"


def test_a_lone_pH_is_little(library: Library) -> None:
    page = summed(case_of(library, Result("pH", "saturated_paste", 7.9)))
    assert page.verdict == Note(
        "summary.verdict_only_pH", {"class": Word("pH_class", "moderately_alkaline"), "pH": 7.9}
    )
    assert "summary.order_routine_test" in action_codes(page)
    assert page.retest == "2027-04"
    assert verdict(case_of(library, Result("OM", "loss_on_ignition", 3, "%"))) == "little_known"
    assert "summary.order_routine_test" not in action_codes(summed(case_of(library)))


@pytest.mark.parametrize(("outcome", "tail"), [("released", ""), ("partial", "_judged")])
def test_how_the_nutrients_stand(library: Library, outcome: str, tail: str) -> None:
    case = case_of(library)
    nitrogen, potash = dose(case, "N", 1), dose(case, "K2O", 1)
    left_out = ["partial"] if tail else []
    assert verdict(case, outcome=outcome) == f"nothing_needed{tail}"
    only = summed(case, nitrogen, nitrogen, outcome=outcome)
    assert only.verdict.code == f"summary.verdict_only_nitrogen{tail}"
    assert beside(only) == left_out
    page = summed(case, nitrogen, potash, nitrogen, outcome=outcome)
    assert page.verdict.code == "summary.verdict_needs"
    assert page.verdict.values["needed"] == (Word("subject", "N"), Word("subject", "K2O"))
    assert beside(page) == left_out
    assert verdict(case, dose(case, "gypsum", 20, kind="amendment"), outcome=outcome) == f"nothing_needed{tail}"


def test_order_is_not_claimed_where_salt_was_not_measured(library: Library) -> None:
    for results in (without("EC"), (*without("EC"), Result("EC", "water_1_2", 0.2, "dS/m"))):
        case = case_of(library, *results)
        assert verdict(case, dose(case, "N", 1)) == "only_nitrogen_tested"


@pytest.mark.parametrize("outcome", ["released", "partial"])
def test_a_nutrient_without_an_amount_is_left_open(library: Library, outcome: str) -> None:
    """Advice on nitrogen that waits for a yield goal is no "nothing needed"."""
    case = case_of(library)
    waiting = plain("practice", "N")
    page = summed(case, waiting, waiting, plain("practice", "drainage"), outcome=outcome)
    assert page.verdict.code == "summary.verdict_open"
    assert page.verdict.values["open"] == (Word("subject", "N"),)
    needing = summed(case, waiting, dose(case, "K2O", 1), outcome=outcome)
    assert needing.verdict.code == "summary.verdict_needs"
    assert beside(needing)[0] == "open"
    assert verdict(case, plain("practice", "drainage"), outcome=outcome).startswith("nothing_needed")


LOW = (
    *without("P", "Zn", "K"),
    Result("P", "olsen", 4, "mg/kg"),
    Result("Zn", "dtpa", 0.2, "mg/kg"),
    Result("K", "ammonium_acetate", 340, "mg/kg"),
)


def test_what_tested_low_is_named_even_without_an_amount(library: Library) -> None:
    """Olsen P 4 and DTPA Zn 0.2 ppm are low by every western table; "good order" must not stand beside them."""
    case = case_of(library, *LOW)
    zinc, phosphorus = Word("analyte", "Zn"), Word("analyte", "P")
    bare = summed(case, dose(case, "N", 1))
    assert bare.verdict.code == "summary.verdict_needs"
    assert beside(bare) == ["low"]
    assert set(bare.verdict.values["more"].values["low"]) == {phosphorus, zinc}
    given = summed(case, dose(case, "N", 1), dose(case, "P2O5", 1), plain("practice", "Zn"))
    assert given.verdict.values["more"].values["low"] == (zinc,)
    assert "rec.practice_Zn" in action_codes(given)
    nothing = summed(case, plain("practice", "P2O5"))
    assert nothing.verdict.code == "summary.verdict_low"
    assert set(nothing.verdict.values["low"]) == {phosphorus, zinc}


def rated(case: Case, analyte: str, rating: str) -> tuple[Finding, ...]:
    return tuple(
        replace(item, rating=rating) if item.analyte == analyte else item for item in ratings.rate(case).findings
    )


@pytest.mark.parametrize(
    ("analyte", "rating", "told"),
    [
        ("P", "high", False),
        ("P", "very_high", True),
        ("P", "excessive", True),
        ("K", "very_high", False),
        ("Zn", "toxic", True),
        ("NO3-N", "excessive", True),
    ],
)
def test_an_excess_is_never_good_order(library: Library, analyte: str, rating: str, told: bool) -> None:
    case = case_of(library)
    salts, exchangeable, acidity = judged(case)
    findings = rated(case, analyte, rating)
    given = (dose(case, "N", 1),)
    page = summary.summarize(case, "released", findings, salts, exchangeable, acidity, given, (), ())
    assert (page.verdict.code == "summary.verdict_excess") is told
    if told:
        assert page.verdict.values["excess"] == (Word("analyte", analyte),)
        assert beside(page) == ["needs"]
        none = summary.summarize(case, "released", findings, salts, exchangeable, acidity, (), (), ())
        assert beside(none) == ["none"]
    assert ("do_not.phosphate" in [note.code for note in page.do_not]) is (told and analyte == "P")


def test_overfull_phosphorus_is_named_whatever_its_class(library: Library) -> None:
    """Olsen P 95 is only "high" in some lawn tables; what the answer says of it is what the verdict says."""
    case = case_of(library)
    full = said("none_needed", "P2O5", "rec.p_excess")
    page = summed(case, dose(case, "N", 1), full)
    assert page.verdict.code == "summary.verdict_excess"
    assert page.do_not[0].code == "do_not.phosphate_manure_compost"
    refused = summed(case, full, plain("do_not", "manure"))
    assert [note.code for note in refused.do_not][:2] == ["rec.do_not_manure", "do_not.phosphate"]


def test_heat_is_the_verdict_the_first_action_and_a_do_not(library: Library) -> None:
    """Cool-season grass is not fed in the heat (Kansas and Colorado turf guides)."""
    case = case_of(library)
    first = date(2026, 8, 25)
    nitrogen = dose(case, "N", 1)
    wait = replace(
        nitrogen,
        text=Note("rec.n_lawn_heat", {"first": first}),
        in_full=True,
        applications=tuple(each._replace(from_date=first) for each in nitrogen.applications),
    )
    page = summed(case, dose(case, "K2O", 1), wait)
    assert page.verdict.code == "summary.verdict_wait"
    assert page.verdict.values["first"] == first
    assert beside(page) == ["then"]
    assert page.actions[0] == wait.text
    assert page.do_not[0].code == "do_not.feed_in_heat"
    undated = summed(case, replace(wait, applications=()))
    assert undated.verdict.values["first"] == first


def test_zinc_on_the_leaves_is_a_headline(library: Library) -> None:
    """Pecan on limy soil is sprayed with zinc every spring (New Mexico and Texas guides)."""
    case = case_of(library, *LOW, crop="pecan", stage="bearing")
    spray = said("practice", "Zn", "rec.zn_foliar_pecan")
    page = summed(case, dose(case, "N", 1), spray)
    assert page.verdict.code == "summary.verdict_zinc_on_leaves"
    assert beside(page) == ["too", "low"]
    assert action_codes(page).index("rec.zn_foliar_pecan") < action_codes(page).index("summary.apply_area_when")


@pytest.mark.parametrize(("ece", "told"), [(1.0, False), (2.5, True)])
def test_a_little_salt_is_no_good_order(library: Library, ece: float, told: bool) -> None:
    """2 to 4 dS/m is very slightly saline (USDA Handbook 18)."""
    case = case_of(library, *without("EC"), Result("EC", "saturated_paste_extract", ece, "dS/m"))
    page = summed(case, dose(case, "N", 1))
    assert (page.verdict.code == "summary.verdict_only_nitrogen") is not told
    assert ("salt" in beside(page)) is told


@pytest.mark.parametrize(
    ("results", "code"),
    [
        (LAWN_RESULTS, "held"),
        ((*without("SAR"), Result("SAR", "saturated_paste_extract", 20)), "held_sodic"),
        (
            (
                *without("SAR", "EC"),
                Result("SAR", "saturated_paste_extract", 20),
                Result("EC", "saturated_paste_extract", 12, "dS/m"),
            ),
            "held_saline_sodic",
        ),
        ((*without("EC"), Result("EC", "saturated_paste_extract", 12, "dS/m")), "held_saline"),
    ],
)
def test_a_held_case_says_what_is_wrong(library: Library, results: tuple[Result, ...], code: str) -> None:
    assert verdict(case_of(library, *results), outcome="held", warned=()) == code


@pytest.mark.parametrize(("ece", "told"), [(1.52, False), (1.53, True), (1.54, True)])
def test_a_small_loss_to_salt_is_not_the_verdict(library: Library, ece: float, told: bool) -> None:
    """A loss of 10 % is worth a caution (common practice); beans lose 19 % per dS/m above 1.0 (Maas 1990)."""
    case = case_of(
        library, *without("EC"), Result("EC", "saturated_paste_extract", ece, "dS/m"), crop="snap-bean", stage=None
    )
    assert verdict(case).startswith("salt_costs_yield") is told


def test_an_excess_is_followed_up(library: Library) -> None:
    case = case_of(library)
    page = summary.summarize(case, "released", rated(case, "P", "excessive"), *judged(case), (), (), ())
    assert page.retest == "2027-04"


# --- actions ------------------------------------------------------------------------------------------------------


def test_three_to_five_actions_always(library: Library) -> None:
    case = case_of(library)
    assert 3 > len(summed(case).actions) >= 2
    many = [dose(case, subject, 1) for subject in ("N", "P2O5", "K2O", "S", "Zn", "Fe")]
    assert len(summed(case, *many).actions) == 5


def test_health_then_tests_then_soil_then_feeding(library: Library) -> None:
    case = case_of(library)
    page = summed(
        case,
        dose(case, "N", 1),
        plain("practice", "irrigation"),
        dose(case, "gypsum", 20, kind="amendment"),
        dose(case, "leaching", 1, kind="water"),
        plain("practice", "drainage"),
        warned=(warning("water_nitrate_infant"),),
        reasons=(Reason("x", "withhold", ask=Note("ask.x")), Reason("y", "info", ask=Note("ask.y"))),
    )
    assert action_codes(page)[:2] == ["summary.first.water_nitrate_infant", "ask.x"]
    assert page.actions[2].code == "rec.practice_drainage"
    assert [note.values["subject"].word for note in page.actions[3:]] == ["gypsum", "leaching"]


def test_water_amendment_nutrient_practice(library: Library) -> None:
    case = case_of(library)
    page = summed(
        case,
        plain("practice", "irrigation"),
        dose(case, "N", 1),
        dose(case, "sulfur", 5, kind="amendment"),
        dose(case, "irrigation", 1, kind="water"),
        warned=(),
    )
    subjects = [note.values["subject"].word for note in page.actions[:3]]
    assert subjects == ["irrigation", "sulfur", "N"]
    assert page.actions[3].code == "rec.practice_irrigation"


def test_an_estimate_is_confirmed_first(library: Library) -> None:
    bean = {"crop": "snap-bean", "stage": None, "texture": "sandy_loam"}
    case = case_of(library, *without("EC"), Result("EC", "water_1_2", 1.1, "dS/m"), **bean)
    assert summed(case).actions[0].code == "ask.salts"
    low = case_of(library, *without("EC"), Result("EC", "water_1_2", 0.05, "dS/m"))
    assert "ask.salts" not in action_codes(summed(low))


def test_one_line_says_how_much(library: Library) -> None:
    case, open_area = case_of(library), case_of(library, area=None)
    split = action(dose(case, "N", 3, split=3))
    assert split.code == "summary.apply_area_split"
    assert split.values["rate"] == Quantity(3.0, "lb/1000 ft2")
    assert split.values["total"] == Quantity(9.6, "lb")
    assert split.values["times"] == 3
    assert split.values["dose"] == Quantity(1.0, "lb/1000 ft2")
    assert split.values["when"] == Note("when.test")
    assert action(dose(case, "N", 1)).code == "summary.apply_area_when"
    assert action(dose(open_area, "N", 3, split=3)).code == "summary.apply_split"
    assert action(dose(open_area, "N", 1)).code == "summary.apply_when"
    whole = replace(dose(case, "N", 1), applications=())
    assert action(whole).code == "summary.apply_area"
    assert action(replace(whole, for_area=None)).code == "summary.apply"
    assert action(plain("practice", "drainage")).code == "rec.practice_drainage"
    practice = replace(dose(case, "compost", 1), kind="practice")
    assert action(practice) == practice.text
    assert action(replace(whole, rate=None)) == whole.text


def test_what_need_not_be_bought_is_said_once(library: Library) -> None:
    case = case_of(library)
    page = summed(case, plain("none_needed", "K2O"), plain("none_needed", "P2O5"), plain("none_needed", "K2O"))
    (skip,) = (note for note in page.actions if note.code == "summary.skip")
    assert skip.values == {"subjects": (Word("subject", "K2O"), Word("subject", "P2O5"))}
    (again,) = (note for note in page.actions if note.code == "summary.test_again")
    assert again.values == {"month": Word("month", "4"), "year": "2029"}


def test_a_held_case_gives_no_amount(library: Library) -> None:
    case = case_of(library)
    page = summed(
        case,
        dose(case, "N", 1),
        dose(case, "gypsum", 20, kind="amendment"),
        plain("practice", "drainage"),
        outcome="held",
    )
    assert page.actions[0].code == "summary.wait"
    assert not any(note.code.startswith("summary.apply") for note in page.actions)
    assert "rec.practice_drainage" in action_codes(page)
    assert page.contact.code == "summary.contact_held"
    for note in (*page.actions, *page.do_not):
        assert not any(isinstance(value, Quantity | Application) for value in note.values.values())


def test_a_refused_case_says_only_what_to_send(library: Library) -> None:
    """No advice, no date for the next test, no *do not* on half a report; danger stays."""
    case = case_of(library)
    asks = (
        Reason("impossible_value", "refuse", "EC", ask=Note("ask.confirm_value")),
        Reason("gypsum_withheld", "withhold", ask=Note("ask.first")),
    )
    page = summed(case, dose(case, "N", 1), plain("do_not", "gypsum"), outcome="refused", reasons=asks)
    assert action_codes(page) == ["summary.send_again", "ask.confirm_value"]
    assert (page.do_not, page.retest) == ((), None)
    grave = summed(case, outcome="refused", warned=(warning("lead_level"), warning("urea_loss", "notice")))
    assert action_codes(grave) == ["summary.first.lead_level", "summary.send_again"]
    assert [note.code for note in grave.do_not] == ["do_not.lead_level"]


# --- each topic once, the important first -------------------------------------------------------------------------


def test_tests_by_another_method_are_one_line(library: Library) -> None:
    case = case_of(library)
    values = [
        {"analyte": Word("analyte", a), "instead": Word("method", m)} for a, m in (("P", "olsen"), ("Zn", "dtpa"))
    ]
    notes = [Note("ask.order_method_if_short", each) for each in values]
    reasons = tuple(Reason("method_not_valid", "withhold", note.values["analyte"].word, ask=note) for note in notes)
    (only, *_) = summed(case, outcome="partial", reasons=reasons).actions
    assert only == Note("summary.order_tests", {"tests": tuple(Note("summary.order_one", each) for each in values)})
    assert summed(case, outcome="partial", reasons=reasons[:1]).actions[0] == notes[0]


def test_at_most_three_asks_so_that_advice_is_seen(library: Library) -> None:
    case = case_of(library)
    reasons = tuple(Reason(f"r{n}", "withhold", ask=Note("ask.x", {"n": n})) for n in range(5))
    page = summed(case, dose(case, "N", 1), outcome="partial", reasons=reasons)
    assert action_codes(page)[:4] == ["ask.x", "ask.x", "ask.x", "summary.apply_area_when"]


def test_one_topic_is_one_action(library: Library) -> None:
    """Iron, manure and compost, the way out for the water and the sodium test are each said once."""
    case = case_of(library)
    iron = [said("practice", "iron_chelate", "rec.iron_turf"), said("practice", "irrigation", "rec.yellow_new_leaves")]
    organic = [plain("practice", "manure"), plain("practice", "compost"), plain("practice", "manure")]
    page = summed(case, *iron, *organic, warned=())
    assert action_codes(page)[:2] == ["rec.iron_turf", "rec.practice_manure"]
    assert not {"rec.yellow_new_leaves", "rec.practice_compost"} & set(action_codes(page))
    outlet = Reason("gypsum_withheld", "withhold", ask=Note("ask.first", {"what": (Note("ask.need.outlet"),)}))
    wet = summed(case, plain("practice", "drainage"), outcome="partial", reasons=(outlet,))
    assert action_codes(wet)[0] == "ask.first"
    assert "rec.practice_drainage" not in action_codes(wet)
    suspected = case_of(library, Result("pH", "saturated_paste", 9.0), symptoms=("ponding",))
    asked = Reason("gypsum_needs_tests", "withhold", ask=Note("ask.gypsum_needs_tests"))
    tests = action_codes(summed(suspected, outcome="partial", reasons=(asked,)))
    assert tests[0] == "ask.gypsum_needs_tests"
    assert "ask.sodium" not in tests


def test_water_and_slope_come_before_feeding(library: Library) -> None:
    case = case_of(library, surface_water_distance=Quantity(15, "ft"), slope_pct=18)
    page = summed(case, dose(case, "N", 1))
    assert action_codes(page)[:3] == ["summary.near_water", "caution.slope.lawn", "summary.apply_area_when"]
    assert page.actions[0].values == {"strip": Quantity(10, "ft")}
    assert Note("do_not.near_water", {"strip": Quantity(10, "ft")}).code in [note.code for note in page.do_not]


def test_a_middling_trace_element_is_no_action(library: Library) -> None:
    """Iron that is only watched and boron that is only medium do not push out what matters."""
    case = case_of(library)
    page = summed(case, plain("practice", "Fe"), plain("practice", "B"), plain("practice", "K2O"), dose(case, "N", 1))
    assert action_codes(page)[:2] == ["summary.apply_area_when", "rec.practice_K2O"]
    assert not {"rec.practice_Fe", "rec.practice_B"} & set(action_codes(page))


def test_what_to_buy_and_what_to_spare_are_said_once(library: Library) -> None:
    case = case_of(library)
    spared = [plain("none_needed", "P2O5"), plain("none_needed", "leaching"), plain("none_needed", "Fe")]
    (skip,) = (note for note in summed(case, *spared).actions if note.code == "summary.skip")
    assert skip.values == {"subjects": (Word("subject", "P2O5"), Word("subject", "Fe"))}
    assert "summary.skip" not in action_codes(summed(case, *spared, plain("practice", "fertilizer")))
    chelate = summed(case, *spared, plain("practice", "iron_chelate"))
    (skip,) = (note for note in chelate.actions if note.code == "summary.skip")
    assert skip.values == {"subjects": (Word("subject", "P2O5"),)}


# --- the do nots that the soil itself says ------------------------------------------------------------------------


def do_not_codes(page: Summary) -> list[str]:
    return [note.code for note in page.do_not]


def test_sodic_soil_is_not_washed_bare(library: Library) -> None:
    case = case_of(library, *without("SAR"), Result("SAR", "saturated_paste_extract", 20))
    assert "do_not.leach_sodic" in do_not_codes(summed(case))
    assert "do_not.leach_sodic" not in do_not_codes(summed(case, plain("do_not", "leaching")))


def test_strong_warnings_are_do_nots(library: Library) -> None:
    case = case_of(library)
    for code in ("soil_nitrate_high", "salty_soil_fertilizer"):
        assert do_not_codes(summed(case, warned=(warning(code, "warning"),)))[0] == f"do_not.{code}"
    both = summed(case, plain("do_not", "manure"), warned=(warning("salty_soil_fertilizer", "warning"),))
    assert "do_not.salty_soil_fertilizer" not in do_not_codes(both)


def test_a_quiet_lawn_is_told_the_most_nitrogen_at_once(library: Library) -> None:
    case = case_of(library)
    limit = Note("limit.single_dose", {"maximum": Quantity(1, "lb/1000 ft2")})
    nitrogen = dose(case, "N", 1)
    nitrogen = replace(nitrogen, applications=tuple(each._replace(limit=limit) for each in nitrogen.applications))
    assert summed(case, nitrogen).do_not[0] == Note("do_not.nitrogen_at_once", {"maximum": Quantity(1, "lb/1000 ft2")})
    garden = case_of(library, crop=GARDEN, stage=None)
    assert "do_not.nitrogen_at_once" not in do_not_codes(summed(garden, nitrogen))
    held = summed(case, nitrogen, outcome="held")
    assert "do_not.nitrogen_at_once" not in do_not_codes(held)


def test_no_lime_on_lime(library: Library) -> None:
    assert "do_not.lime" in do_not_codes(summed(case_of(library)))
    assert "do_not.lime" not in do_not_codes(summed(case_of(library), plain("do_not", "wood_ash")))
    none = case_of(library, *without("lime"), Result("lime", "acid_fizz", text="none"))
    assert "do_not.lime" not in do_not_codes(summed(none))


def test_the_soil_adds_no_more_than_five(library: Library) -> None:
    many = [plain("do_not", subject) for subject in ("gypsum", "sulfur", "vinegar", "compost", "coffee_grounds")]
    assert len(summed(case_of(library), *many).do_not) == 5
    six = [*many, plain("do_not", "aluminum_sulfate")]
    assert len(summed(case_of(library), *six).do_not) == 6


# --- never against a caution --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("code", "subject"), [(c, s) for c, subjects in BARRED.items() for s in sorted(subjects)])
def test_no_action_goes_against_a_caution(library: Library, code: str, subject: str) -> None:
    case = case_of(library)
    forbidden = dose(case, subject, 0.01, kind="amendment")
    other = dose(case, "chloride", 0.01)
    page = summed(case, forbidden, other, warned=(warning(code, consult=()),))
    subjects = {note.values["subject"].word for note in page.actions if note.code.startswith("summary.apply")}
    assert subjects == {"chloride"}
    assert subject in {
        note.values["subject"].word
        for note in summed(case, forbidden, other, warned=()).actions
        if note.code.startswith("summary.apply")
    }


def test_firm_do_nots_are_listed_once(library: Library) -> None:
    case = case_of(library, requests=("acid", "wood_ash"))
    page = summed(case, plain("not_suited", "crop_choice"), plain("do_not", "chloride"), plain("do_not", "chloride"))
    assert [note.code for note in page.do_not] == [
        "do_not.acid_home",
        "do_not.wood_ash_alkaline",
        "do_not.fertigation_backflow",
        "do_not.acidifying_limy_soil",
        "rec.not_suited_crop_choice",
        "rec.do_not_chloride",
    ]
    assert (
        page.do_not
        == summed(
            case, plain("not_suited", "crop_choice"), plain("do_not", "chloride"), reasons=(Reason("x", "info"),)
        ).do_not
    )


def test_a_do_not_with_its_arithmetic_replaces_the_bare_one(library: Library) -> None:
    case = case_of(library, requests=("lower_ph",))
    assert do_not_codes(summed(case))[0] == "do_not.acidifying_limy_soil"
    said_fully = do_not_codes(summed(case, plain("do_not", "sulfur")))
    assert said_fully[0] == "rec.do_not_sulfur"
    assert "do_not.acidifying_limy_soil" not in said_fully


def test_warnings_that_forbid_nothing_stay_out_of_the_do_nots(library: Library) -> None:
    page = summed(case_of(library), warned=(warning("urea_loss", "notice"), warning("lead_level")))
    assert do_not_codes(page) == ["do_not.lead_level", "do_not.lime"]


# --- retest and contact -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("as_of", "months", "expected"),
    [
        (date(2026, 4, 20), 36, "2029-04"),
        (date(2026, 12, 31), 12, "2027-12"),
        (date(2026, 1, 1), 12, "2027-01"),
        (date(2026, 12, 1), 1, "2027-01"),
        (date(2026, 11, 1), 1, "2026-12"),
        (date(2026, 6, 1), 6, "2026-12"),
        (date(2026, 6, 1), 7, "2027-01"),
    ],
)
def test_months_later(as_of: date, months: int, expected: str) -> None:
    assert summary._later(as_of, months) == expected


@pytest.mark.parametrize(
    ("results", "month"),
    [
        (LAWN_RESULTS, "2029-04"),
        ((*without("SAR"), Result("SAR", "saturated_paste_extract", 20)), "2027-04"),
        ((*without("SAR"), Result("SAR", "saturated_paste_extract", 2)), "2029-04"),
        (without("SAR"), "2029-04"),
        ((*without("EC"), Result("EC", "saturated_paste_extract", 12, "dS/m")), "2027-04"),
        ((Result("pH", "saturated_paste", 7.9),), "2027-04"),
    ],
)
def test_trouble_is_tested_again_sooner(library: Library, results: tuple[Result, ...], month: str) -> None:
    assert summed(case_of(library, *results)).retest == month


def test_an_amendment_is_followed_up(library: Library) -> None:
    case = case_of(library)
    assert summed(case, dose(case, "sulfur", 5, kind="amendment")).retest == "2027-04"
    assert summed(case, dose(case, "N", 1)).retest == "2029-04"
    assert case.as_of == DAY


def test_whom_to_ask_about_health(library: Library) -> None:
    bad = (Result("NO3-N", "water_sample", 12, "mg/L"),)
    page = summed(case_of(library, water=bad, well=Well(infant=True)))
    assert page.contact.code == "summary.contact_danger"
    assert page.contact.values["who"][0] == Note("consult.health_department")
    assert summed(case_of(library), warned=(warning("lead_level", consult=()),)).contact.code == "summary.contact"
