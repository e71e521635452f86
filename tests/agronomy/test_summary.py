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
from service.agronomy.findings import Application, Caution, Note, Reason, Recommendation, Summary, Word
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
    assert page.do_not == ()
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


@pytest.mark.parametrize("code", sorted(summary.HEALTH))
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
    low = case_of(library, *without("EC"), Result("EC", "saturated_paste_extract", 1, "dS/m"), **bed)
    assert verdict(low) == "nothing_needed"


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


@pytest.mark.parametrize(("outcome", "tail"), [("released", ""), ("partial", "_partial")])
def test_how_the_nutrients_stand(library: Library, outcome: str, tail: str) -> None:
    case = case_of(library)
    nitrogen, potash = dose(case, "N", 1), dose(case, "K2O", 1)
    assert verdict(case, outcome=outcome) == f"nothing_needed{tail}"
    assert verdict(case, nitrogen, nitrogen, outcome=outcome) == f"only_nitrogen{tail}"
    page = summed(case, nitrogen, potash, nitrogen, outcome=outcome)
    assert page.verdict.code == f"summary.verdict_needs{tail}"
    assert page.verdict.values == {"needed": (Word("subject", "N"), Word("subject", "K2O"))}
    assert verdict(case, dose(case, "gypsum", 20, kind="amendment"), outcome=outcome) == f"nothing_needed{tail}"


@pytest.mark.parametrize(("outcome", "tail"), [("released", ""), ("partial", "_partial")])
def test_a_nutrient_without_an_amount_is_left_open(library: Library, outcome: str, tail: str) -> None:
    """Advice on nitrogen that waits for a yield goal is no "nothing needed"."""
    case = case_of(library)
    waiting = plain("practice", "N")
    page = summed(case, waiting, waiting, plain("practice", "drainage"), outcome=outcome)
    assert page.verdict == Note(f"summary.verdict_open{tail}", {"open": (Word("subject", "N"),)})
    assert verdict(case, waiting, dose(case, "K2O", 1), outcome=outcome) == f"needs{tail}"
    assert verdict(case, plain("practice", "drainage"), outcome=outcome) == f"nothing_needed{tail}"


@pytest.mark.parametrize(("ece", "told"), [(1.52, False), (1.53, True), (1.54, True)])
def test_a_small_loss_to_salt_is_not_the_verdict(library: Library, ece: float, told: bool) -> None:
    """A loss of 10 % is worth a caution (common practice); beans lose 19 % per dS/m above 1.0 (Maas 1990)."""
    case = case_of(
        library, *without("EC"), Result("EC", "saturated_paste_extract", ece, "dS/m"), crop="snap-bean", stage=None
    )
    assert verdict(case).startswith("salt_costs_yield") is told


def test_an_excess_is_the_verdict_and_is_followed_up(library: Library) -> None:
    case = case_of(library)
    salts, exchangeable, acidity = judged(case)
    findings = tuple(replace(item, rating="excessive") for item in ratings.rate(case).findings)
    page = summary.summarize(case, "released", findings, salts, exchangeable, acidity, (), (), ())
    assert page.verdict.code == "summary.verdict_excess"
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
    split = summary.action(dose(case, "N", 3, split=3))
    assert split.code == "summary.apply_area_split"
    assert split.values["rate"] == Quantity(3.0, "lb/1000 ft2")
    assert split.values["total"] == Quantity(9.6, "lb")
    assert split.values["times"] == 3
    assert split.values["dose"] == Quantity(1.0, "lb/1000 ft2")
    assert split.values["when"] == Note("when.test")
    assert summary.action(dose(case, "N", 1)).code == "summary.apply_area_when"
    assert summary.action(dose(open_area, "N", 3, split=3)).code == "summary.apply_split"
    assert summary.action(dose(open_area, "N", 1)).code == "summary.apply_when"
    whole = replace(dose(case, "N", 1), applications=())
    assert summary.action(whole).code == "summary.apply_area"
    assert summary.action(replace(whole, for_area=None)).code == "summary.apply"
    assert summary.action(plain("practice", "drainage")).code == "rec.practice_drainage"
    practice = replace(dose(case, "compost", 1), kind="practice")
    assert summary.action(practice) == practice.text
    assert summary.action(replace(whole, rate=None)) == whole.text


def test_what_need_not_be_bought_is_said_once(library: Library) -> None:
    case = case_of(library)
    page = summed(case, plain("none_needed", "K2O"), plain("none_needed", "P2O5"), plain("none_needed", "K2O"))
    (skip,) = (note for note in page.actions if note.code == "summary.skip")
    assert skip.values == {"subjects": (Word("subject", "K2O"), Word("subject", "P2O5"))}
    (again,) = (note for note in page.actions if note.code == "summary.test_again")
    assert again.values == {"month": Word("month", "4"), "year": "2029"}


@pytest.mark.parametrize(("outcome", "first"), [("held", "summary.wait"), ("refused", "summary.send_again")])
def test_a_closed_case_gives_no_amount(library: Library, outcome: str, first: str) -> None:
    case = case_of(library)
    page = summed(
        case,
        dose(case, "N", 1),
        dose(case, "gypsum", 20, kind="amendment"),
        plain("practice", "drainage"),
        outcome=outcome,
    )
    assert page.actions[0].code == first
    assert not any(note.code.startswith("summary.apply") for note in page.actions)
    assert "rec.practice_drainage" in action_codes(page)
    assert page.contact.code == ("summary.contact_held" if outcome == "held" else "summary.contact")
    for note in page.actions:
        assert not any(isinstance(value, Quantity | Application) for value in note.values.values())


# --- never against a caution --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "subject"), [(c, s) for c, subjects in summary.BARRED.items() for s in sorted(subjects)]
)
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


def test_a_do_not_with_its_arithmetic_replaces_the_bare_one(library: Library) -> None:
    case = case_of(library, requests=("lower_ph",))
    assert [note.code for note in summed(case).do_not] == ["do_not.acidifying_limy_soil"]
    assert [note.code for note in summed(case, plain("do_not", "sulfur")).do_not] == ["rec.do_not_sulfur"]


def test_warnings_that_forbid_nothing_stay_out_of_the_do_nots(library: Library) -> None:
    page = summed(case_of(library), warned=(warning("urea_loss", "notice"), warning("lead_level")))
    assert [note.code for note in page.do_not] == ["do_not.lead_level"]


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
