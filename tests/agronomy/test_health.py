"""Metals, nitrate and infants, forage: the figures at which a person must look, and what is said below them.

Lead: US EPA residential lead directive of 16 October 2025 (200 and 600 mg/kg), guidance of 17 January 2024 (200, and
100 with several sources), California DTSC 2009 (80). Arsenic: upper background of southern California 12 (DTSC).
Cadmium: California residential 1.7, federal about 71 (Santa Ana study, table 3). Nitrate: 10 mg/L as N (US EPA).
"""

from dataclasses import replace
from datetime import date
from math import inf
from typing import Any

import pytest
from making import LAWN_RESULTS, case_of, judged

from service.agronomy import cautions, decision, health
from service.agronomy.errors import TableError
from service.agronomy.findings import Caution, Note, Reason, Word
from service.agronomy.sample import Case
from service.agronomy.submission import Depth, Quantity, Result, Well
from service.agronomy.tables import AlwaysPersonRow, Library, SafetyLevelRow

GARDEN = "vegetable-garden"


def metal(analyte: str, value: float, method: str = "total_digest", qualifier: str | None = None) -> Result:
    return Result(analyte, method, value, "mg/kg", qualifier)


def with_metal(library: Library, result: Result, **more: Any) -> Case:
    return case_of(library, *LAWN_RESULTS, result, crop=GARDEN, stage=None, **more)


OF_THE_GARDEN = frozenset(("mixed_bed_sensitive",))
"""What the vegetable garden says by itself, whatever the results."""


def found(case: Case) -> dict[str, Caution]:
    salts, exchangeable, acidity = judged(case)
    return {item.code: item for item in cautions.gather(case, (), salts, exchangeable, acidity, None, ())}


def holds(case: Case) -> set[str]:
    return {reason.code for reason in decision.decide(case, (), (), ()).reasons if reason.severity == "hold"}


def outcome(case: Case) -> str:
    return decision.decide(case, (), (), ()).outcome


@pytest.mark.parametrize(
    ("analyte", "value", "held", "code", "severity"),
    [
        ("Pb", 199.9, False, "screening_level", "notice"),
        ("Pb", 200, True, "lead_level", "danger"),
        ("Pb", 200.1, True, "lead_level", "danger"),
        ("Pb", 599.9, True, "lead_level", "danger"),
        ("Pb", 600, True, "lead_removal_level", "danger"),
        ("Pb", 600.1, True, "lead_removal_level", "danger"),
        ("As", 11.9, False, "screening_level", "notice"),
        ("As", 12, True, "arsenic_level", "warning"),
        ("As", 12.1, True, "arsenic_level", "warning"),
        ("Cd", 1.69, False, "screening_level", "notice"),
        ("Cd", 1.7, True, "cadmium_level", "warning"),
        ("Cd", 1.71, True, "cadmium_level", "warning"),
        ("Cd", 71, True, "cadmium_level", "danger"),
    ],
)
def test_metals_hold_at_the_lowest_level(
    library: Library, analyte: str, value: float, held: bool, code: str, severity: str
) -> None:
    case = with_metal(library, metal(analyte, value))
    assert (holds(case) == {"total_metal"}) is held
    assert outcome(case) == ("held" if held else "released")
    assert found(case)[code].severity == severity


def test_removal_level_does_not_replace_the_lower_caution(library: Library) -> None:
    assert {"lead_level", "lead_removal_level"} <= set(found(with_metal(library, metal("Pb", 600))))
    assert "lead_removal_level" not in found(with_metal(library, metal("Pb", 599)))


@pytest.mark.parametrize(("value", "held"), [(79.9, False), (80, True), (80.1, True)])
def test_a_state_may_be_stricter(library: Library, value: float, held: bool) -> None:
    """California uses 80 for homes; elsewhere the federal 200 is the lowest."""
    assert ("total_metal" in holds(with_metal(library, metal("Pb", value), region="US-CA"))) is held
    assert "total_metal" not in holds(with_metal(library, metal("Pb", value), region="US-XX"))
    assert "total_metal" not in holds(with_metal(library, metal("Pb", value), region=None))


@pytest.mark.parametrize(("value", "warned"), [(99.9, False), (100, True), (199.9, True), (200, False)])
@pytest.mark.parametrize("several", [{"children": True}, {"house_built": 1977}])
def test_several_sources_of_lead(library: Library, value: float, warned: bool, several: dict[str, Any]) -> None:
    """100 with several sources, January 2024 to October 2025: a warning still, for children or an old house."""
    assert ("lead_several_sources" in found(with_metal(library, metal("Pb", value), **several))) is warned


@pytest.mark.parametrize("single", [{}, {"children": False}, {"house_built": 1978}, {"house_built": 1990}])
def test_one_source_of_lead(library: Library, single: dict[str, Any]) -> None:
    """The federal ban on lead house paint of 1978: a house of that year or later is no old house."""
    assert "lead_several_sources" not in found(with_metal(library, metal("Pb", 150), **single))


def test_the_caution_names_level_date_edition_and_the_older_levels(library: Library) -> None:
    values = found(with_metal(library, metal("Pb", 260)))["lead_level"].values
    assert values["value"] == Quantity(260, "mg/kg")
    assert values["level"] == Quantity(200, "mg/kg")
    assert values["since"] == date(2025, 10, 16)
    assert values["edition"]
    older = said_before(values["before"])
    assert (Quantity(200, "mg/kg"), date(2024, 1, 17), date(2025, 10, 16)) in older
    assert (Quantity(100, "mg/kg"), date(2024, 1, 17), date(2025, 10, 16)) in older
    assert all(level != Quantity(400, "mg/kg") for level, _, _ in older)
    both = values["before"].values
    assert both["second"].code == "caution.level_before_several"
    assert both["first"].values["second"].code == "caution.level_before"


def the_hold(case: Case) -> Reason:
    (reason,) = (each for each in decision.decide(case, (), (), ()).reasons if each.severity == "hold")
    return reason


@pytest.mark.parametrize(
    ("result", "code"),
    [
        (metal("Pb", 260), "total_metal"),
        (metal("Pb", 260, "dtpa"), "metal_by_extract"),
        (metal("Pb", 260, qualifier="<"), "total_metal_undecided"),
    ],
)
def test_the_hold_names_what_it_rests_on_and_what_to_send(library: Library, result: Result, code: str) -> None:
    reason = the_hold(with_metal(library, result))
    values = {
        "metal": Word("analyte", "Pb"),
        "value": Quantity(260, "mg/kg"),
        "level": Quantity(200, "mg/kg"),
        "since": date(2025, 10, 16),
        "edition": library.editions["safety-levels"].edition,
    }
    assert reason == Reason(code, "hold", "Pb", values, Note(f"ask.{code}", values))


def test_the_caution_names_metal_and_region(library: Library) -> None:
    federal = found(with_metal(library, metal("Pb", 260)))["lead_level"].values
    assert federal["metal"] == Word("analyte", "Pb")
    assert federal["region"] == Word("region", "federal")
    state = found(with_metal(library, metal("Pb", 90), region="US-CA"))["lead_level"].values
    assert state["region"] == "US-CA"
    assert state["level"] == Quantity(80, "mg/kg")


def said_before(note: Note) -> list[tuple[Any, Any, Any]]:
    if note.code == "caution.level_newest":
        return []
    if note.code == "caution.level_both":
        return [*said_before(note.values["first"]), *said_before(note.values["second"])]
    return [(note.values["level"], note.values["since"], note.values["until"])]


@pytest.mark.parametrize(
    "asked",
    [{"editions": {"safety-levels": "2023-06-01"}}, {"editions": {"safety-levels": "2024-01-16"}}],
)
def test_a_pinned_edition_names_the_older_level_and_never_uses_it(library: Library, asked: dict[str, Any]) -> None:
    """400 mg/kg held from 1994 to January 2024: a pin asks for it, and 260 is held all the same."""
    case = with_metal(library, metal("Pb", 260), options=asked)
    assert holds(case) == {"total_metal"}
    older = said_before(found(case)["lead_level"].values["before"])
    assert Quantity(400, "mg/kg") in {level for level, _, _ in older}


@pytest.mark.parametrize(
    ("pin", "named"), [("2024-01-16", True), ("2024-01-17", False), ("1994-07-14", True), ("1994-07-13", False)]
)
def test_an_older_level_is_in_force_until_the_day_before(library: Library, pin: str, named: bool) -> None:
    case = with_metal(library, metal("Pb", 260), options={"editions": {"safety-levels": pin}})
    older = {level for level, _, _ in said_before(found(case)["lead_level"].values["before"])}
    assert (Quantity(400, "mg/kg") in older) is named


def test_a_state_level_has_its_own_past(library: Library) -> None:
    """The federal 400 of before 2024 is no older level of California's 80."""
    case = with_metal(library, metal("Pb", 90), region="US-CA", options={"editions": {"safety-levels": "2023-06-01"}})
    assert said_before(found(case)["lead_level"].values["before"]) == []


def test_a_pin_may_carry_more_than_its_day(library: Library) -> None:
    case = with_metal(library, metal("Pb", 260), options={"editions": {"safety-levels": "2023-06-01-corrected"}})
    assert health.pinned_day(case) == date(2023, 6, 1)


def test_the_words_of_severity_are_the_contracts() -> None:
    assert health.SEVERITIES == ("notice", "caution", "warning", "danger")


def test_an_unreadable_pin_counts_as_the_day_of_the_case(library: Library) -> None:
    case = with_metal(library, metal("Pb", 260), options={"editions": {"safety-levels": "latest"}})
    assert health.pinned_day(case) == case.as_of
    assert health.pinned_day(with_metal(library, metal("Pb", 260))) == case.as_of


@pytest.mark.parametrize("method", ["dtpa", "mehlich_3", "not_stated"])
def test_a_nutrient_extract_is_not_total_lead(library: Library, method: str) -> None:
    case = with_metal(library, metal("Pb", 50, method))
    assert "lead_not_total" in found(case)
    assert "screening_level" not in found(case)
    assert holds(case) == set()


def test_an_extract_at_the_level_means_the_total_is_at_it(library: Library) -> None:
    """An extract dissolves a part: what it finds the total has at least."""
    assert holds(with_metal(library, metal("Pb", 200, "dtpa"))) == {"metal_by_extract"}
    assert holds(with_metal(library, metal("Pb", 199, "dtpa"))) == set()
    assert "lead_level" in found(with_metal(library, metal("Pb", 200, "dtpa")))


def test_no_caution_on_metals_says_safe(library: Library) -> None:
    from service.render.catalogue import Catalogue

    texts = Catalogue().entries["en"]
    for code, entry in texts.items():
        if code.startswith(("caution.lead", "caution.arsenic", "caution.cadmium", "caution.screening", "reason.total")):
            assert " safe" not in entry.text.lower()


@pytest.mark.parametrize(
    ("qualifier", "value", "codes"),
    [
        ("<", 150, set()),
        ("<", 200, {"total_metal_undecided"}),
        ("<", 400, {"total_metal_undecided"}),
        (">", 100, {"total_metal_undecided"}),
        (">", 200, {"total_metal"}),
    ],
)
def test_a_censored_figure_is_an_interval(library: Library, qualifier: str, value: float, codes: set[str]) -> None:
    """What cannot be told from the level is not below it."""
    case = with_metal(library, metal("Pb", value, qualifier=qualifier))
    assert holds(case) == codes
    assert ("metal_level_undecided" in found(case)) is (codes == {"total_metal_undecided"})
    assert ("screening_level" in found(case)) is (codes == set())


def test_a_spoilt_sample_does_not_hide_lead(library: Library) -> None:
    case = with_metal(library, metal("Pb", 900), sample={"material": "potting_mix"})
    assert case.find("Pb") is None or case.voids
    assert holds(case) == {"total_metal"}


def test_lead_in_another_layer_counts(library: Library) -> None:
    deep = Result("Pb", "total_digest", 500, "mg/kg", depth=Depth(12, 18, "in"))
    assert holds(with_metal(library, deep)) == {"total_metal"}


def test_the_highest_of_several_results_speaks(library: Library) -> None:
    one, other = metal("Pb", 210), metal("Pb", 410)
    for results in ((one, other), (other, one)):
        case = case_of(library, *LAWN_RESULTS, *results, crop=GARDEN, stage=None)
        assert found(case)["lead_level"].values["value"] == Quantity(410, "mg/kg")


def test_levels_of_water_and_biosolids_are_not_those_of_soil(library: Library) -> None:
    case = case_of(library, Result("NO3-N", "kcl_extract", 40, "mg/kg"), Result("Zn", "dtpa", 3000, "mg/kg"))
    assert health.metals(case) == ()


# --- nitrate and infants ------------------------------------------------------------------------------------------


def in_water(value: float) -> tuple[Result, ...]:
    return (Result("NO3-N", "water_sample", value, "mg/L"),)


@pytest.mark.parametrize(("value", "held"), [(9.99, False), (10, True), (10.01, True)])
def test_an_infant_on_a_well(library: Library, value: float, held: bool) -> None:
    """Held at 10 mg/L as well as above it."""
    case = case_of(library, water=in_water(value), well=Well(infant=True))
    assert (holds(case) == {"well_nitrate_infant"}) is held
    if held:
        figure = {"value": Quantity(value, "mg/L")}
        assert the_hold(case) == Reason("well_nitrate_infant", "hold", "NO3-N", figure, Note("ask.well_test"))
    assert holds(case_of(library, water=in_water(value), well=Well(infant=False))) == set()
    assert holds(case_of(library, water=in_water(value), well=Well())) == set()
    assert holds(case_of(library, water=in_water(value))) == set()


@pytest.mark.parametrize(("value", "held"), [(29.9, False), (30, True), (30.1, True)])
def test_a_rich_garden_beside_an_infants_well(library: Library, value: float, held: bool) -> None:
    """30 mg/kg in the top foot and 100 ft to the well are working lines (common practice)."""
    rich = Result("NO3-N", "kcl_extract", value, "mg/kg")
    near = Well(distance=Quantity(40, "ft"), infant=True)
    assert (holds(case_of(library, rich, well=near)) == {"garden_nitrate_infant"}) is held


@pytest.mark.parametrize(
    ("distance", "held"),
    [
        (Quantity(99.9, "ft"), True),
        (Quantity(100, "ft"), True),
        (Quantity(100.1, "ft"), False),
        (Quantity(30, "m"), True),
        (Quantity(31, "m"), False),
        (None, True),
    ],
)
def test_how_near_a_well_is_near(library: Library, distance: Quantity | None, held: bool) -> None:
    rich = Result("NO3-N", "kcl_extract", 60, "mg/kg")
    case = case_of(library, rich, well=Well(distance=distance, infant=True))
    assert (holds(case) == {"garden_nitrate_infant"}) is held


def test_no_well_is_near(library: Library) -> None:
    case = case_of(library)
    assert health.near_well(case, library.index(health.Rules.of)) is False


# --- forage -------------------------------------------------------------------------------------------------------

FEEDING: dict[str, Any] = {"crop": "alfalfa", "condition": {"livestock": True}}


@pytest.mark.parametrize(
    ("analyte", "method", "value", "code"),
    [
        ("NO3-N", "kcl_extract", 29.9, None),
        ("NO3-N", "kcl_extract", 30, "forage_nitrate"),
        ("NO3-N", "kcl_extract", 30.1, "forage_nitrate"),
        ("Cu", "dtpa", 20, None),
        ("Cu", "dtpa", 20.1, "forage_copper"),
        ("Zn", "dtpa", 50, None),
        ("Zn", "dtpa", 50.1, "forage_zinc"),
    ],
)
def test_forage_for_livestock(library: Library, analyte: str, method: str, value: float, code: str | None) -> None:
    """Working lines of the trade (common practice)."""
    result = Result(analyte, method, value, "mg/kg")
    case = case_of(library, result, **FEEDING)
    assert holds(case) == ({code} if code else set())
    if code:
        values = {"analyte": Word("analyte", analyte), "value": Quantity(value, "mg/kg")}
        assert the_hold(case) == Reason(code, "hold", analyte, values, Note("ask.forage"))
    assert holds(case_of(library, result, crop="alfalfa")) == set()
    assert holds(case_of(library, result, crop=GARDEN, condition={"livestock": True})) == set()


@pytest.mark.parametrize("analyte", ["Se", "Mo"])
def test_any_trace_element_in_forage_is_read_by_a_person(library: Library, analyte: str) -> None:
    case = case_of(library, Result(analyte, "not_stated", 0.4, "mg/kg"), **FEEDING)
    if case.find(analyte) is None:
        pytest.fail(f"{analyte} did not come through the door")
    assert holds(case) == {"forage_trace"}
    assert holds(case_of(library, Result(analyte, "not_stated", 0.4, "mg/kg"), crop="alfalfa")) == set()


def test_an_unnamed_crop_for_livestock_counts_as_forage(library: Library) -> None:
    case = case_of(library, Result("NO3-N", "kcl_extract", 40, "mg/kg"), crop=None, condition={"livestock": True})
    assert "forage_nitrate" in holds(case)


# --- the tables ---------------------------------------------------------------------------------------------------


def changed(library: Library, table: str, rows: tuple[Any, ...]) -> Library:
    return Library({**library.tables, table: rows}, library.editions, library.sources, library.crops)


@pytest.mark.parametrize("rule", sorted(health.RULES))
def test_a_rule_cannot_be_taken_out_of_the_table(library: Library, rule: str) -> None:
    rows = tuple(row for row in library.rows("always-a-person", AlwaysPersonRow) if row.rule != rule)
    with pytest.raises(TableError, match=rule):
        changed(library, "always-a-person", rows).index(health.Rules.of)


def test_a_rule_without_its_figure_is_an_error(library: Library) -> None:
    rows = tuple(replace(row, value=None) for row in library.rows("always-a-person", AlwaysPersonRow))
    rules = changed(library, "always-a-person", rows).index(health.Rules.of)
    with pytest.raises(TableError, match="well_nitrate_infant"):
        rules.limit("well_nitrate_infant")
    result = case_of(library, Result("Cu", "dtpa", 3, "mg/kg")).soil[0]
    with pytest.raises(TableError, match="forage_copper"):
        health.exceeds(rules.row("forage_copper"), result)


def test_levels_are_data(library: Library) -> None:
    """A newer row at once changes the answer; the replaced one is only named."""
    rows = library.rows("safety-levels", SafetyLevelRow)
    (now,) = (row for row in rows if row.level == "lead_residential")
    lower = replace(now, value=50, in_force_from=date(2026, 3, 1))
    others = tuple(row for row in rows if row is not now)
    stricter = changed(library, "safety-levels", (*others, replace(now, replaced_on=date(2026, 3, 1)), lower))
    case = with_metal(stricter, metal("Pb", 60))
    assert holds(case) == {"total_metal"}
    values = found(case)["lead_level"].values
    assert values["level"] == Quantity(50, "mg/kg")
    assert said_before(values["before"])[0][0] == Quantity(200, "mg/kg")


def test_a_metal_without_a_level_here_is_not_judged(library: Library) -> None:
    """Where only another state lists a level, nothing is said; where no level calls for a person, none is called."""
    rows = library.rows("safety-levels", SafetyLevelRow)
    elsewhere = tuple(replace(row, region="US-CA") for row in rows if row.analyte == "Cd")
    case = with_metal(changed(library, "safety-levels", elsewhere), metal("Cd", 500))
    assert health.metals(case) == ()
    assert set(found(case)) == {"scope", *OF_THE_GARDEN}
    quiet = tuple(replace(row, outcome="") for row in rows)
    case = with_metal(changed(library, "safety-levels", quiet), metal("Cd", 500))
    assert holds(case) == set()
    assert set(found(case)) == {"cadmium_level", "scope", *OF_THE_GARDEN}


@pytest.mark.parametrize(
    ("operator", "upper", "value", "reached"),
    [
        (">", None, 99.9, False),
        (">", None, 100, False),
        (">", None, 100.1, True),
        (">=", None, 99.9, False),
        (">=", None, 100, True),
        (">=", None, 100.1, True),
        (">=", 200, 99.9, False),
        (">=", 200, 100, True),
        (">=", 200, 199.9, True),
        (">=", 200, 200, False),
    ],
)
def test_levels_keep_to_the_words_of_their_source(
    library: Library, operator: str, upper: float | None, value: float, reached: bool
) -> None:
    """*Above* is not *at*; a range ends before its upper figure."""
    rows = library.rows("safety-levels", SafetyLevelRow)
    (row,) = (each for each in rows if each.level == "cadmium_federal")
    own = replace(row, operator=operator, value=100, upper=upper, outcome="")
    case = with_metal(changed(library, "safety-levels", (own,)), metal("Cd", value))
    (read,) = health.metals(case)
    assert bool(read.reached) is reached


def test_higher_levels_come_first(library: Library) -> None:
    (read,) = health.metals(with_metal(library, metal("Pb", 700), children=True))
    assert [row.value for row in read.reached] == [600, 200]
    assert next(iter(found(with_metal(library, metal("Pb", 700))))) == "lead_removal_level"


def test_an_extract_below_a_limit_of_detection_is_no_lower_bound(library: Library) -> None:
    case = with_metal(library, metal("Pb", 300, "dtpa", qualifier="<"))
    assert holds(case) == set()
    assert "lead_not_total" in found(case)


def test_an_infants_well_without_any_nitrate_test(library: Library) -> None:
    case = case_of(library, Result("pH", "saturated_paste", 7.9), well=Well(infant=True))
    assert holds(case) == set()


@pytest.mark.parametrize("analyte", ["Se", "Mo"])
def test_a_trace_element_that_was_not_found_is_no_concern(library: Library, analyte: str) -> None:
    case = case_of(library, Result(analyte, "not_stated", 0.1, "mg/kg", "<"), **FEEDING)
    assert case.find(analyte) is not None
    assert holds(case) == set()


def test_open_ends(library: Library) -> None:
    assert health.millionths(inf) == inf
    assert health.millionths(1.5) == 1_500_000
    assert health.shown(case_of(library, metal("Pb", 150, qualifier=">")).soil[0]) == Quantity(150, "mg/kg")
    assert health.shown(case_of(library, metal("Pb", 150, qualifier="<")).soil[0]) == Quantity(150, "mg/kg")
