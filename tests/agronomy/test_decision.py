"""The outcome: all rules run and the gravest decides; what a person must see cannot be lost on the way.

Limits: 10,000 ft2 for reclamation and the list of cases for a person are the contract's; figures of metals and nitrate
are proven in test_health.py.
"""

from dataclasses import replace
from datetime import date
from itertools import permutations
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import LAWN_RESULTS, case_of, dose, judged, plain

from service.agronomy import caps, decision, kept_back
from service.agronomy.findings import (
    Caution,
    Interpretation,
    Leaching,
    NotAssessed,
    Note,
    Reason,
    Recommendation,
    Sodium,
    Step,
    Word,
)
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity, Result
from service.agronomy.tables import Library, ReleaseRuleRow

GARDEN = "vegetable-garden"
HELD = (
    "acid",
    "boron_amount",
    "total_metal",
    "metal_by_extract",
    "total_metal_undecided",
    "well_nitrate_infant",
    "garden_nitrate_infant",
    "reclamation_area",
    "reclamation_use",
    "forage_nitrate",
    "forage_copper",
    "forage_zinc",
    "forage_trace",
    "dose_over_cap",
    "dose_over_cap_each",
)
SEVERITIES = ("info", "warning", "withhold", "hold", "refuse")


def decide(case: Case, *given: Recommendation, reasons: tuple[Reason, ...] = ()) -> decision.Decision:
    return decision.decide(case, reasons, given, ())


def codes(case: Case, *given: Recommendation) -> set[str]:
    return {reason.code for reason in decide(case, *given).reasons}


# --- the gravest wins ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("severity", "outcome"),
    [("info", "released"), ("warning", "released"), ("withhold", "partial"), ("hold", "held"), ("refuse", "refused")],
)
def test_each_severity_gives_its_outcome(library: Library, severity: str, outcome: str) -> None:
    assert decide(case_of(library), reasons=(Reason("anything", severity),)).outcome == outcome


def test_without_reasons_it_is_released(library: Library) -> None:
    assert decide(case_of(library)) == decision.Decision("released", ())


@pytest.mark.parametrize("order", list(permutations(range(5)))[::7])
def test_the_gravest_wins_in_any_order_and_stands_first(library: Library, order: tuple[int, ...]) -> None:
    reasons = tuple(Reason(f"code_{SEVERITIES[rank]}", SEVERITIES[rank]) for rank in order)
    decided = decide(case_of(library), reasons=reasons)
    assert decided.outcome == "refused"
    assert [reason.severity for reason in decided.reasons] == list(SEVERITIES[::-1])


def test_equally_grave_reasons_keep_their_order(library: Library) -> None:
    reasons = (Reason("b", "warning"), Reason("a", "warning"), Reason("c", "info"), Reason("d", "warning"))
    assert [reason.code for reason in decide(case_of(library), reasons=reasons).reasons] == ["b", "a", "d", "c"]


def test_a_reason_is_given_once_and_at_its_gravest(library: Library) -> None:
    mild, grave = Reason("x", "info", "P"), Reason("x", "withhold", "P")
    for pair in ((mild, grave), (grave, mild)):
        decided = decide(case_of(library), reasons=(*pair, mild))
        assert decided.reasons == (grave,)
        assert decided.outcome == "partial"


@pytest.mark.parametrize(
    "other", [Reason("y", "info", "P"), Reason("x", "info", "K"), Reason("x", "info", "P", pointer="/a")]
)
def test_reasons_of_different_things_are_all_kept(library: Library, other: Reason) -> None:
    assert len(decide(case_of(library), reasons=(Reason("x", "info", "P"), other)).reasons) == 2


# --- the table of release rules -----------------------------------------------------------------------------------


def with_rule(library: Library, code: str, severity: str) -> Library:
    row = ReleaseRuleRow(
        code=code, severity=severity, owner_en="x", owner_es="x", sources=("practice",), verification="practice"
    )
    rows = (*(each for each in library.rows("release-rules", ReleaseRuleRow) if each.code != code), row)
    return Library({**library.tables, "release-rules": rows}, library.editions, library.sources, library.crops)


def test_the_table_may_make_a_reason_graver(library: Library) -> None:
    case = case_of(with_rule(library, "unusual_value", "hold"))
    decided = decide(case, reasons=(Reason("unusual_value", "warning", "P"),))
    assert decided.outcome == "held"
    assert decided.reasons == (Reason("unusual_value", "hold", "P"),)


@pytest.mark.parametrize("severity", ["info", "warning", "withhold"])
def test_the_table_never_makes_a_reason_milder(library: Library, severity: str) -> None:
    case = case_of(with_rule(library, "acid", severity), requests=("acid",))
    assert decide(case, plain("practice", "acid")).outcome == "held"


def test_every_rule_of_ours_is_in_the_table(library: Library) -> None:
    listed = {row.code: row.severity for row in library.rows("release-rules", ReleaseRuleRow)}
    for code in HELD:
        assert listed[code] == "hold"
    for code in ("crop_not_given", "crop_ratings_only", "request_withheld"):
        assert listed[code] == "withhold"
    assert all(severity in SEVERITIES for severity in listed.values())


# --- crop and requests --------------------------------------------------------------------------------------------


def test_no_crop_is_partial(library: Library) -> None:
    decided = decide(case_of(library, crop=None))
    assert decided.outcome == "partial"
    (reason,) = decided.reasons
    assert reason == Reason("crop_not_given", "withhold", None, {}, Note("ask.crop"), "/target/crop")


def test_a_crop_with_ratings_only_is_partial(library: Library) -> None:
    bare = replace(library.crops[GARDEN], amounts=())
    thin = Library(library.tables, library.editions, library.sources, {**library.crops, GARDEN: bare})
    case = case_of(thin, crop=GARDEN, stage=None)
    decided = decide(case)
    assert decided.outcome == "partial"
    (reason,) = decided.reasons
    assert reason == Reason("crop_ratings_only", "withhold", None, {"crop": Word("crop", GARDEN)}, None, "/target/crop")
    assert decide(case, plain("not_suited", "crop_choice")).outcome == "released"
    assert decide(case, plain("not_suited", "gypsum")).outcome == "partial"
    assert decide(case, plain("do_not", "crop_choice")).outcome == "partial"


def test_untested_things_never_make_an_answer_partial(library: Library) -> None:
    assert decide(case_of(library, Result("pH", "saturated_paste", 7.8))).outcome == "released"


ANSWERS = {
    # what each request of the contract asks for, as a subject of a recommendation
    "lower_ph": ("sulfur",),
    "raise_ph": ("lime",),
    "gypsum": ("gypsum",),
    "sulfur": ("sulfur",),
    "lime": ("lime",),
    "wood_ash": ("wood_ash",),
    "compost": ("compost",),
    "manure": ("manure",),
    "iron": ("Fe", "iron_chelate"),
    "boron": ("B",),
    "acid": ("acid",),
    "aluminum_sulfate": ("aluminum_sulfate",),
    "vinegar": ("vinegar",),
    "coffee_grounds": ("coffee_grounds",),
    "leaching": ("leaching",),
    "fertilizer": ("N", "P2O5", "K2O", "fertilizer"),
}


@pytest.mark.parametrize("request_", sorted(ANSWERS))
def test_a_request_needs_an_answer(library: Library, request_: str) -> None:
    case = case_of(library, requests=(request_,))
    (reason,) = (each for each in decide(case).reasons if each.code == "request_withheld")
    assert reason.severity == "withhold"
    assert reason.analyte == request_
    assert reason.pointer == "/site/requests/0"
    assert reason.values == {"request": Word("request", request_)}
    for subject in ANSWERS[request_]:
        for kind in ("do_not", "none_needed", "practice"):
            assert "request_withheld" not in codes(case, plain(kind, subject))
    assert "request_withheld" in codes(case, plain("do_not", "chloride"))


def test_the_pointer_names_the_request_that_was_left_open(library: Library) -> None:
    case = case_of(library, requests=("compost", "gypsum"))
    (reason,) = decide(case, plain("do_not", "compost")).reasons
    assert reason.pointer == "/site/requests/1"


def test_without_a_crop_requests_are_not_counted_against_the_answer(library: Library) -> None:
    assert codes(case_of(library, crop=None, requests=("compost",))) == {"crop_not_given"}


def test_organic_only_is_a_way_not_a_thing(library: Library) -> None:
    assert decide(case_of(library, requests=("organic_only",))).outcome == "released"


def test_the_reason_that_a_recommendation_brings_counts(library: Library) -> None:
    open_reason = Reason("gypsum_needs_tests", "withhold", "gypsum")
    item = replace(plain("do_not", "gypsum"), reason=open_reason)
    decided = decide(case_of(library, requests=("gypsum",)), item)
    assert decided.outcome == "partial"
    assert decided.reasons == (open_reason,)


# --- always a person ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["nutrient", "amendment", "water"])
@pytest.mark.parametrize("subject", ["B", "boron"])
def test_a_boron_amount_is_held(library: Library, kind: str, subject: str) -> None:
    case = case_of(library)
    decided = decide(case, plain(kind, subject))
    assert decided.outcome == "held"
    assert decided.reasons == (Reason("boron_amount", "hold", "B", {}, Note("ask.boron")),)


@pytest.mark.parametrize("kind", ["do_not", "none_needed", "practice", "not_suited"])
def test_a_word_on_boron_or_acid_is_no_amount(library: Library, kind: str) -> None:
    case = case_of(library)
    assert decide(case, plain(kind, "B"), plain(kind, "acid")).outcome == "released"


def test_acid_is_held(library: Library) -> None:
    """An amount, or a wish that nobody refused; a wish answered by a firm *do not* needs no person."""
    asked = case_of(library, requests=("acid",))
    unrefused = decide(asked, plain("practice", "acid"))
    assert unrefused.outcome == "held"
    assert unrefused.reasons == (Reason("acid", "hold", None, {}, Note("ask.acid")),)
    assert decide(asked, plain("do_not", "acid")).outcome == "released"
    case = case_of(library)
    assert codes(case, dose(case, "acid", 1, kind="amendment")) == {"acid"}
    assert codes(case, dose(case, "N", 1)) == set()


@pytest.mark.parametrize(("area", "held"), [(9_999, False), (10_000, False), (10_001, True)])
@pytest.mark.parametrize("subject", ["gypsum", "leaching"])
def test_a_large_area_to_reclaim_is_held(library: Library, subject: str, area: float, held: bool) -> None:
    """More than 10,000 ft2."""
    case = case_of(library, area=Quantity(area, "ft2"))
    decided = decide(case, dose(case, subject, 20, kind="amendment"))
    assert (decided.outcome == "held") is held
    if held:
        (reason,) = decided.reasons
        assert reason.code == "reclamation_area"
        assert reason.ask == Note("ask.reclaiming", {"what": (Note("ask.part.drainage"), Note("ask.part.water"))})
        assert reason.values == {
            "subject": Word("subject", subject),
            "area": Quantity(area, "ft2"),
            "limit": Quantity(10_000, "ft2"),
        }
    assert decide(case, dose(case, "sulfur", 5, kind="amendment")).outcome == "released"
    assert decide(case, plain("do_not", subject)).outcome == "released"


def test_an_area_nobody_gave_is_not_taken_for_large(library: Library) -> None:
    case = case_of(library, area=None)
    assert decide(case, dose(case, "gypsum", 20, kind="amendment")).outcome == "released"


def test_a_large_area_in_other_units(library: Library) -> None:
    """10,000 ft2 is 929.03 m2 and 0.2296 acre."""
    for area, held in ((Quantity(929, "m2"), False), (Quantity(930, "m2"), True), (Quantity(0.23, "acre"), True)):
        case = case_of(library, area=area)
        assert (decide(case, dose(case, "gypsum", 20, kind="amendment")).outcome == "held") is held


@pytest.mark.parametrize(
    ("crop", "use", "held"),
    [
        (GARDEN, None, False),
        (GARDEN, "home", False),
        (GARDEN, "school", False),
        (GARDEN, "market", True),
        (GARDEN, "field", True),
        ("tall-fescue-lawn", "sports", True),
        ("athletic-field", None, True),
        ("athletic-field", "home", False),
        ("alfalfa", None, True),
        ("alfalfa", "home", False),
        ("winter-wheat", None, True),
    ],
)
def test_reclaiming_for_a_living_is_held(library: Library, crop: str, use: str | None, held: bool) -> None:
    case = case_of(library, crop=crop, stage=None, area=Quantity(500, "ft2"), condition={"use": use})
    decided = decide(case, dose(case, "gypsum", 20, kind="amendment"))
    assert (decided.outcome == "held") is held
    if held:
        (reason,) = decided.reasons
        assert (reason.code, reason.severity) == ("reclamation_use", "hold")
        assert reason.values == {"subject": Word("subject", "gypsum")}
    assert decide(case, dose(case, "N", 1)).outcome == "released"


SODIC = (
    Result("pH", "saturated_paste", 8.9),
    Result("EC", "saturated_paste_extract", 2.1, "dS/m"),
    Result("Na", "saturated_paste_extract", 19, "meq/L"),
    Result("Ca", "saturated_paste_extract", 1.6, "meq/L"),
    Result("Mg", "saturated_paste_extract", 0.9, "meq/L"),
)
SALTY = (
    Result("EC", "saturated_paste_extract", 9.4, "dS/m"),
    Result("Na", "saturated_paste_extract", 20, "meq/L"),
    Result("Ca", "saturated_paste_extract", 50, "meq/L"),
    Result("Mg", "saturated_paste_extract", 24, "meq/L"),
)


@pytest.mark.parametrize("drainage", ["free", "slow", "ponded", "unknown"])
@pytest.mark.parametrize(
    ("area", "use", "held"),
    [(20_000, "home", {"reclamation_area"}), (5_000, "sports", {"reclamation_use"}), (5_000, "home", set())],
)
def test_sodic_ground_is_held_however_it_drains(
    library: Library, drainage: str, area: float, use: str, held: set[str]
) -> None:
    """A site on which no amount can be reckoned must not be watched less than one that drains (common practice)."""
    case = case_of(library, *SODIC, area=Quantity(area, "ft2"), condition={"use": use}, drainage=drainage)
    salts, exchangeable, _ = judged(case)
    decided = decision.decide(case, (), (plain("do_not", "gypsum"),), (), salts, exchangeable)
    assert {reason.code for reason in decided.reasons} == held


def test_salt_that_cannot_be_washed_out_yet_is_held_on_a_field(library: Library) -> None:
    """Alfalfa loses half its yield at ECe 9.4 (threshold 2.0, 7.3 %, Maas and Hoffman 1977)."""
    case = case_of(library, *SALTY, crop="alfalfa", area=Quantity(5, "acre"), drainage="slow")
    salts, exchangeable, _ = judged(case)
    decided = decision.decide(case, (), (), (), salts, exchangeable)
    assert {reason.code for reason in decided.reasons} == {"reclamation_area", "reclamation_use"}
    assert decided.reasons[0].values["subject"] == Word("subject", "leaching")
    assert not decision.decide(case, (), (), (), None, exchangeable).reasons


def test_an_estimate_of_salt_holds_nothing(library: Library) -> None:
    case = case_of(library, Result("EC", "water_1_2", 4.0, "dS/m"), crop="alfalfa", area=Quantity(5, "acre"))
    salts, exchangeable, _ = judged(case)
    assert not decision.decide(case, (), (), (), salts, exchangeable).reasons


@pytest.mark.parametrize(
    ("drainage", "water", "parts"),
    [
        (None, (), ("drainage", "water")),
        ("unknown", (), ("drainage", "water")),
        ("free", (), ("water",)),
        ("slow", (Result("EC", "water_sample", 0.7, "dS/m"),), ("outlet",)),
        ("ponded", (), ("outlet", "water")),
        ("free", (Result("EC", "water_sample", 0.7, "dS/m"),), None),
    ],
)
def test_only_what_is_missing_is_asked_for(
    library: Library, drainage: str | None, water: tuple[Result, ...], parts: tuple[str, ...] | None
) -> None:
    case = case_of(library, area=Quantity(20_000, "ft2"), drainage=drainage, water=water)
    (reason,) = decide(case, dose(case, "gypsum", 20, kind="amendment")).reasons
    wanted = None if parts is None else Note("ask.reclaiming", {"what": tuple(Note(f"ask.part.{x}") for x in parts)})
    assert reason.ask == wanted


@pytest.mark.parametrize(("water", "parts"), [((), ("water",)), ((Result("EC", "water_sample", 0.7, "dS/m"),), None)])
def test_what_another_reason_asks_is_not_asked_twice(
    library: Library, water: tuple[Result, ...], parts: tuple[str, ...] | None
) -> None:
    """Gypsum or leaching that is withheld asks itself how the water gets away."""
    for drainage in ("unknown", "ponded"):
        case = case_of(library, *SODIC, area=Quantity(20_000, "ft2"), drainage=drainage, water=water)
        _, exchangeable, _ = judged(case)
        withheld = replace(plain("do_not", "gypsum"), reason=Reason("gypsum_withheld", "withhold"))
        found = decision.decide(case, (), (withheld,), (), None, exchangeable).reasons
        (area,) = (reason for reason in found if reason.code == "reclamation_area")
        wanted = None if parts is None else {"what": tuple(Note(f"ask.part.{part}") for part in parts)}
        assert area.ask == (None if wanted is None else Note("ask.reclaiming", wanted))


def test_a_capped_dose_is_held(library: Library) -> None:
    case = case_of(library)
    kept, over = caps.enforce(case, [dose(case, "N", 5)])
    decided = decide(case, *kept, reasons=over)
    assert decided.outcome == "held"
    assert decided.reasons[0].code == "dose_over_cap"


# --- what the sender of a held case sees --------------------------------------------------------------------------


def interpretation(library: Library, outcome: str) -> Interpretation:
    case = case_of(library)
    salts, _, _ = judged(case)
    assert salts is not None
    salts.leaching = Leaching("reclamation", Quantity(6, "in"), None, None, ())
    salts.steps = (Step("reclamation_water", "recl", {}, 6, "in"),)
    gypsum = dose(case, "gypsum", 20, kind="amendment")
    kinds = [dose(case, "N", 1, kind=kind) for kind in ("nutrient", "amendment", "water", *sorted(kept_back.SHOWN))]
    _, over = caps.enforce(case, [dose(case, "N", 5)])
    return Interpretation(
        outcome=outcome,
        reasons=(*over, Reason("acid", "hold")),
        summary=None,
        findings=(),
        salinity=salts,
        sodium=Sodium(16.0, None, "sodic", "sodic", gypsum=gypsum, steps=salts.steps),
        texture=None,
        water=None,
        recommendations=tuple(kinds),
        cautions=(),
        not_assessed=(),
        quality_checks=(),
        editions=(),
        sources=(),
        crop=None,
        as_of=date(2026, 4, 20),
    )


def test_a_refused_case_keeps_figures_reasons_and_danger(library: Library) -> None:
    """Advice on half a report is none: no plan, no list of tests, no warning about what is no longer advised."""
    whole = interpretation(library, "refused")
    mild = [Caution("urea_loss", severity, {}, (), (), "practice") for severity in ("notice", "caution", "warning")]
    grave = Caution("lead_level", "danger", {}, (), (), "read")
    whole.cautions = (grave, *mild)
    whole.not_assessed = (NotAssessed("sodium", Note("missing.sodium"), Note("ask.sodium")),)
    seen = decision.visible_to_submitter(whole)
    assert (seen.recommendations, seen.cautions, seen.not_assessed) == ((), (grave,), ())
    assert len(seen.reasons) == 2
    assert seen.salinity is not None
    assert seen.salinity.leaching is None


def test_amounts_are_kept_back(library: Library) -> None:
    whole = interpretation(library, "held")
    whole.cautions = (Caution("urea_loss", "notice", {}, (), (), "practice"),)
    whole.not_assessed = (NotAssessed("sodium", Note("missing.sodium"), Note("ask.sodium")),)
    seen = decision.visible_to_submitter(whole)
    assert (seen.cautions, seen.not_assessed) == (whole.cautions, whole.not_assessed)
    assert {item.kind for item in seen.recommendations} == {"practice", "do_not", "none_needed", "not_suited"}
    for item in seen.recommendations:
        assert (item.rate, item.for_area, item.applications, item.base_rate) == (None, None, (), None)
        assert item.text
    assert seen.salinity is not None
    assert seen.salinity.leaching is None
    assert seen.salinity.steps == ()
    assert seen.salinity.ece is not None
    assert seen.sodium is not None
    assert seen.sodium.gypsum is None
    assert seen.sodium.steps == ()
    assert seen.sodium.sar == 16.0
    assert [reason.severity for reason in seen.reasons] == ["hold", "hold"]


def test_a_reason_loses_its_dose_and_keeps_its_cap(library: Library) -> None:
    seen = decision.visible_to_submitter(interpretation(library, "held"))
    first, second = seen.reasons
    assert first.code == "dose_over_cap_kept_back"
    assert first.severity == "hold"
    assert set(first.values) == {"subject", "cap", "per"}
    assert second.code == "acid"


def test_a_dose_for_a_tree_or_a_layer_is_kept_back_too(library: Library) -> None:
    whole = interpretation(library, "held")
    cap = {"subject": Word("subject", "N"), "cap": Quantity(8, "oz/tree"), "per": Word("per", "year")}
    whole.reasons = (Reason("dose_over_cap_each", "hold", "N", {**cap, "dose": Quantity(0.7, "lb/tree")}),)
    (seen,) = decision.visible_to_submitter(whole).reasons
    assert seen == Reason("dose_over_cap_each_kept_back", "hold", "N", cap)


def test_the_draft_itself_stays_whole(library: Library) -> None:
    whole = interpretation(library, "held")
    decision.visible_to_submitter(whole)
    assert whole.salinity is not None
    assert whole.salinity.leaching is not None
    assert whole.sodium is not None
    assert whole.sodium.gypsum is not None
    assert len(whole.recommendations) == 7
    assert whole.reasons[0].code == "dose_over_cap"


@pytest.mark.parametrize("outcome", ["released", "partial"])
def test_a_released_answer_is_shown_as_it_is(library: Library, outcome: str) -> None:
    whole = interpretation(library, outcome)
    assert decision.visible_to_submitter(whole) is whole


def test_nothing_to_keep_back_leaves_salts_and_sodium(library: Library) -> None:
    whole = interpretation(library, "held")
    assert whole.salinity is not None
    assert whole.sodium is not None
    whole.salinity.leaching, whole.sodium.gypsum = None, None
    seen = decision.visible_to_submitter(whole)
    assert seen.salinity is whole.salinity
    assert seen.sodium is whole.sodium
    whole.salinity, whole.sodium = None, None
    seen = decision.visible_to_submitter(whole)
    assert (seen.salinity, seen.sodium) == (None, None)


def test_a_plain_word_is_passed_on_as_it_is(library: Library) -> None:
    whole = interpretation(library, "held")
    word = plain("practice", "drainage")
    whole.recommendations = (word,)
    assert decision.visible_to_submitter(whole).recommendations == (word,)


# --- properties ---------------------------------------------------------------------------------------------------

CASES: dict[str, dict[str, Any]] = {
    "lawn": {},
    "garden": {"crop": GARDEN, "stage": None},
    "field": {"crop": "alfalfa", "stage": None},
    "nobody": {"crop": None},
}


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    which=st.sampled_from(sorted(CASES)),
    lead=st.floats(200, 100_000),
    doses=st.lists(st.tuples(st.sampled_from(["N", "P2O5", "gypsum"]), st.floats(0.01, 1)), max_size=4),
    reasons=st.lists(st.sampled_from(SEVERITIES[:4]), max_size=4),
)
def test_lead_is_never_released_whatever_else_is_said(
    library: Library, which: str, lead: float, doses: list[tuple[str, float]], reasons: list[str]
) -> None:
    case = case_of(library, *LAWN_RESULTS, Result("Pb", "total_digest", lead, "mg/kg"), **CASES[which])
    given_ = [dose(case, subject, rate) for subject, rate in doses]
    told = tuple(Reason(f"r{place}", severity) for place, severity in enumerate(reasons))
    assert decide(case, *given_, reasons=told).outcome in ("held", "refused")
