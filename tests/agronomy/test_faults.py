"""Faults of sampling and handling: each takes out or weakens the analytes it touches, and nothing else."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from making import case_of

from service.agronomy import door, quality
from service.agronomy.errors import TableError
from service.agronomy.faults import Faults
from service.agronomy.findings import Word
from service.agronomy.quality import Quality
from service.agronomy.submission import Amended, Depth, Result, Sample, Site, Submission, Target
from service.agronomy.tables import FaultRow, Library
from service.render.catalogue import Catalogue

DAY = date(2026, 4, 20)
RESULTS = (
    Result("pH", "saturated_paste", 7.8),
    Result("EC", "saturated_paste_extract", 1.1, "dS/m"),
    Result("P", "olsen", 31, "mg/kg"),
    Result("K", "ammonium_acetate", 340, "mg/kg"),
    Result("NO3-N", "kcl_extract", 7, "mg/kg"),
    Result("Zn", "dtpa", 1.8, "mg/kg"),
    Result("Fe", "dtpa", 9, "mg/kg"),
    Result("Mn", "dtpa", 5, "mg/kg"),
    Result("Cu", "dtpa", 1.5, "mg/kg"),
    Result("OM", "loss_on_ignition", 3.1, "%"),
    Result("lime", "calcimeter", 4, "%"),
)
GOOD = Sample(depth=Depth(0, 4, "in"), cores=12, container="plastic", tool="stainless_steel", handling="air_dried")
LAWN = "tall-fescue-lawn"
ALL = {result.analyte for result in RESULTS}
type_of_sampler = Callable[..., Quality]


@pytest.fixture(scope="module")
def sampled(library: Library) -> type_of_sampler:
    """Checks an ordinary report taken in some way."""

    def run(
        sample: dict[str, Any] | None = None,
        results: tuple[Result, ...] = RESULTS,
        crop: str | None = LAWN,
        **site: Any,
    ) -> Quality:
        submission = Submission(replace(GOOD, **(sample or {})), results, Target(crop), Site(**site))
        return quality.check(door.understand(submission, library, DAY).case)

    return run


def names(marked: Any, results: tuple[Result, ...] = RESULTS) -> set[str]:
    return {results[index].analyte for index in marked}


def codes(found: Quality) -> list[tuple[str, str]]:
    return [(reason.code, reason.severity) for reason in found.reasons]


def test_a_good_sample_goes_without_a_word(sampled: type_of_sampler) -> None:
    """Stainless tool, plastic pail, air-dried, twelve cores, lawn depth: nothing to say."""
    found = sampled()
    assert found.reasons == ()
    assert found.voids == {}
    assert found.weakened == {}


VOIDS: list[tuple[dict[str, Any], str, set[str]]] = [
    ({"container": "galvanized"}, "galvanized_container", {"Zn"}),
    ({"tool": "galvanized"}, "galvanized_tool", {"Zn"}),
    ({"container": "brass_or_bronze"}, "brass_container", {"Zn", "Cu"}),
    ({"tool": "brass_or_bronze"}, "brass_tool", {"Zn", "Cu"}),
    ({"handling": "moist_warm"}, "warm_moist", {"NO3-N"}),
    ({"material": "potting_mix"}, "potting_mix", ALL),
    ({"material": "compost"}, "compost_sent", ALL),
    ({"material": "manure"}, "manure_sent", ALL),
]


@pytest.mark.parametrize(("sample", "code", "void"), VOIDS, ids=[code for _, code, _ in VOIDS])
def test_what_is_taken_out(sampled: type_of_sampler, sample: dict[str, Any], code: str, void: set[str]) -> None:
    """Zinc from galvanized metal, zinc and copper from brass (Yavapai County); nitrate from a warm bag (KSU)."""
    found = sampled(sample)
    assert names(found.voids) == void
    assert codes(found)[0] == (code, "withhold")
    assert found.reasons[0].ask is not None
    assert {note.code for note in found.voids.values()} == {f"void.{code}"}
    assert (codes(found)[-1] == ("nothing_usable", "refuse")) == (void == ALL)


WEAKENED: list[tuple[dict[str, Any], str, set[str]]] = [
    ({"container": "other_metal"}, "other_metal_container", {"Zn", "Cu", "Fe", "Mn"}),
    ({"tool": "plain_steel"}, "rusty_tool", {"Fe", "Mn"}),
    ({"cores": 4}, "few_cores", {"P", "K", "NO3-N", "EC"}),
    ({"material": "organic_soil"}, "organic_soil", {"P", "K", "NO3-N", "EC"}),
    ({"depth": Depth(0, 1, "in")}, "top_scrape", {"EC", "P", "K", "Zn", "OM"}),
    (
        {"handling": "refrigerated", "taken_on": date(2026, 3, 1), "received_on": date(2026, 3, 23)},
        "stored_cold_long",
        {"NO3-N", "K", "pH"},
    ),
    (
        {"handling": "moist_cool", "taken_on": date(2026, 3, 1), "received_on": date(2026, 3, 9)},
        "moist_long",
        {"NO3-N"},
    ),
]


@pytest.mark.parametrize(("sample", "code", "weakened"), WEAKENED, ids=[code for _, code, _ in WEAKENED])
def test_what_is_weakened(sampled: type_of_sampler, sample: dict[str, Any], code: str, weakened: set[str]) -> None:
    """Rated with a caution: rust, few cores, mixed areas, fresh fertilizer, wrong depth (sources in sample-faults)."""
    found = sampled(sample)
    assert names(found.weakened) == weakened
    assert found.voids == {}
    assert codes(found) == [(code, "warning")]


PROVISIONAL: list[tuple[dict[str, Any], str, set[str]]] = [
    ({"mixed_areas": True}, "mixed_areas", ALL),
    ({"fertilized_within_days": 42}, "recently_fertilized", {"NO3-N", "P", "K", "EC", "Zn"}),
]


@pytest.mark.parametrize(("sample", "code", "weakened"), PROVISIONAL, ids=[code for _, code, _ in PROVISIONAL])
def test_what_is_provisional(sampled: type_of_sampler, sample: dict[str, Any], code: str, weakened: set[str]) -> None:
    """Rated, and no rate: a sample full of fertilizer, and an average of good and bad (practice; NCCE-PROB)."""
    found = sampled(sample)
    assert names(found.weakened) == weakened
    assert found.voids == {}
    assert codes(found) == [(code, "withhold")]
    assert found.reasons[0].ask is not None


def test_a_deep_lawn_sample_is_only_remarked_on(sampled: type_of_sampler) -> None:
    """Lawn tables are made on 2-4 in (common practice); a deeper sample is the right one for salts and sodium."""
    found = sampled({"depth": Depth(0, 6, "in")})
    assert codes(found) == [("lawn_too_deep", "info")]
    assert names(found.weakened) == set()
    assert found.reasons[0].values["analytes"] == (Word("analyte", "P"), Word("analyte", "K"))


@pytest.mark.parametrize(
    ("crop", "bottom", "said"),
    [("new-lawn-seeding", 6, False), ("new-lawn-seeding", 6.1, True), ("kentucky-bluegrass-lawn", 5.1, True)],
)
def test_the_depth_of_a_lawn_is_that_of_its_tables(library: Library, crop: str, bottom: float, said: bool) -> None:
    """A lawn to be seeded is dug and sampled to 6 in (its crop file)."""
    case = case_of(library, crop=crop, stage=None, depth=Depth(0, bottom, "in"))
    found = quality.check(case)
    assert ("lawn_too_deep" in {reason.code for reason in found.reasons}) is said


UNTOUCHED: list[dict[str, Any]] = [
    {"cores": 5},
    {"mixed_areas": False},
    {"fertilized_within_days": 43},
    {"depth": Depth(0, 5, "in")},
    {"depth": Depth(0, 2, "in")},
    {"handling": "refrigerated", "taken_on": date(2026, 3, 1), "received_on": date(2026, 3, 22)},
    {"handling": "moist_cool", "taken_on": date(2026, 3, 1), "received_on": date(2026, 3, 8)},
    {"handling": "moist_cool"},
    {"handling": "air_dried", "taken_on": date(2026, 1, 1), "received_on": date(2026, 4, 1)},
    {"tool": "unknown", "container": "unknown", "handling": "unknown"},
]


@pytest.mark.parametrize("sample", UNTOUCHED)
def test_just_inside_nothing_is_said(sampled: type_of_sampler, sample: dict[str, Any]) -> None:
    """Each limit on its good side."""
    assert sampled(sample).reasons == ()


def test_heat_takes_some_and_weakens_others(sampled: type_of_sampler) -> None:
    """Oven drying voids nitrate and manganese and makes P, K and salts doubtful (drying studies)."""
    found = sampled({"handling": "oven_dried"})
    assert names(found.voids) == {"NO3-N", "Mn"}
    assert {"P", "K", "EC"} <= names(found.weakened)
    assert codes(found) == [("heated", "withhold"), ("heated_weakened", "warning")]


def test_two_months_moist(sampled: type_of_sampler) -> None:
    """Two months of moist storage makes nitrate: out."""
    dates = {"taken_on": date(2026, 1, 1), "received_on": date(2026, 3, 5)}
    assert names(sampled({"handling": "moist_cool", **dates}).voids) == {"NO3-N"}


@pytest.mark.parametrize(
    ("material", "days", "code"),
    [
        ("gypsum", 180, "recent_gypsum"),
        ("steer_manure", 56, "recent_manure"),
        ("manure", 57, None),
        ("compost", 0, "recent_compost"),
        ("sulfur", 30, "recent_sulfur"),
        ("wood_ash", 30, "recent_wood_ash"),
        ("fertilizer", -3, None),
        ("iron", 3, None),
    ],
)
def test_amendments_before_the_sample(sampled: type_of_sampler, material: str, days: int, code: str | None) -> None:
    """Counted back from the day of sampling; what came after it, or too long before, is not in the sample."""
    taken = date(2026, 4, 10)
    on = date.fromordinal(taken.toordinal() - days)
    found = sampled({"taken_on": taken}, amended=(Amended(material, on),))
    assert codes(found) == ([(code, "warning")] if code else [])


def test_an_amendment_without_a_day_is_no_fault(sampled: type_of_sampler) -> None:
    """Nobody said when: not assumed to be recent."""
    assert sampled(amended=(Amended("gypsum"),)).reasons == ()


OBSERVED = [
    ("thatch", "thatch", {"NO3-N", "K", "OM"}, set()),
    ("crust_in_sample", "crust", {"EC"}, set()),
    ("used_bag", "used_bag", set(), {"K", "P", "NO3-N"}),
    ("near_fence_or_road", "near_structure", {"Zn", "Cu", "pH"}, set()),
]


@pytest.mark.parametrize(("name", "code", "weakened", "void"), OBSERVED, ids=[code for _, code, _, _ in OBSERVED])
def test_observations(sampled: type_of_sampler, name: str, code: str, weakened: set[str], void: set[str]) -> None:
    """What the client tells of the sample; a no is a no."""
    found = sampled(observations={name: "yes"})
    assert names(found.weakened) == weakened
    assert names(found.voids) == void
    assert codes(found)[0][0] == code
    assert sampled(observations={name: "no"}).reasons == ()


def test_notes_change_nothing(sampled: type_of_sampler) -> None:
    """A missing depth and many stones are said and touch no figure."""
    deep = sampled({"depth": None})
    assert codes(deep) == [("depth_missing", "info")]
    stones = sampled(results=(*RESULTS, Result("gravel", "field_estimate", 20, "%")))
    assert codes(stones) == [("stones", "info")]
    for found in (deep, stones):
        assert found.voids == {}
        assert found.weakened == {}


def test_only_what_was_reported_is_named(sampled: type_of_sampler) -> None:
    """A galvanized pail says nothing about a report without zinc; a lawn's depth is no fault in a garden."""
    assert sampled({"container": "galvanized"}, results=RESULTS[:4]).reasons == ()
    assert sampled({"depth": Depth(0, 8, "in")}, crop="vegetable-garden").reasons == ()


def test_zinc_from_the_pail_alone_is_withheld(sampled: type_of_sampler) -> None:
    """38 ppm zinc mixed in a galvanized pail: zinc is out and is not judged any further, all else stands."""
    results = (*RESULTS[:5], Result("Zn", "dtpa", 38, "mg/kg"))
    found = sampled({"container": "galvanized"}, results=results)
    assert codes(found) == [("galvanized_container", "withhold")]
    assert names(found.voids, results) == {"Zn"}
    assert found.reasons[0].analyte == "Zn"


def test_every_fault_has_its_words(library: Library) -> None:
    """Reason, mark and order of every row of the table, in English and Spanish."""
    catalogue = Catalogue()
    for language in ("en", "es"):
        texts = catalogue.texts(language)
        for row in library.rows("sample-faults", FaultRow):
            mark = {"void": f"void.{row.fault}", "weaken": f"weak.{row.fault}"}.get(row.effect)
            for code in (f"reason.{row.fault}", mark, f"ask.{row.ask}" if row.ask else None):
                assert code is None or code in texts, (language, code)


def test_a_trigger_nobody_knows_is_refused(library: Library) -> None:
    """A row that could never fire is a fault of the table, found when it is prepared."""
    row = replace(library.rows("sample-faults", FaultRow)[0], trigger="moon:full")
    broken = Library({**library.tables, "sample-faults": (row,)}, library.editions, library.sources, library.crops)
    with pytest.raises(TableError):
        Faults.of(broken)
