"""What the client asked and what the soil itself asks for: each subject once, each answer with its reasons."""

from typing import Any

import pytest
from making import case_of, judged

from service.agronomy import amounts, ratings, requests, texture
from service.agronomy.findings import Recommendation
from service.agronomy.iron import chelate_for
from service.agronomy.reference import reference_of
from service.agronomy.submission import Depth, IrrigationWater, Quantity, Result
from service.agronomy.tables import Library
from service.render.catalogue import Catalogue

PASTE = "saturated_paste_extract"
EVERYTHING = (
    "lower_ph",
    "raise_ph",
    "gypsum",
    "sulfur",
    "lime",
    "wood_ash",
    "iron",
    "acid",
    "aluminum_sulfate",
    "vinegar",
    "coffee_grounds",
    "leaching",
)
LIMY = Result("lime", "calcimeter", 4, "%")


def answers(library: Library, *results: Result, **more: Any) -> list[Recommendation]:
    case = case_of(library, *results, **{"crop": "tomato", "depth": Depth(0, 6, "in"), "stage": None, **more})
    salts, exchangeable, acidity = judged(case)
    return requests.answer(case, salts, exchangeable, acidity, texture.texture_of(case))


def of(found: list[Recommendation], subject: str) -> Recommendation | None:
    return next((item for item in found if item.subject == subject), None)


def pH(value: float) -> Result:
    return Result("pH", "saturated_paste", value)


def iron(value: float) -> Result:
    return Result("Fe", "dtpa", value, "mg/kg")


def test_ordinary_lawn_is_told_quietly(library: Library) -> None:
    """pH 7.8, lime 4 %, SAR 2, nothing asked: no lime, no gypsum, nothing else; no amount anywhere."""
    found = answers(library, crop="tall-fescue-lawn", stage="established")
    assert {(item.kind, item.subject) for item in found} == {("none_needed", "lime"), ("none_needed", "gypsum")}
    assert all(item.base_rate is None and item.reason is None for item in found)


def test_each_subject_once(library: Library) -> None:
    """Everything asked at once: one answer per subject."""
    found = answers(library, pH(8.1), LIMY, requests=EVERYTHING)
    subjects = [item.subject for item in found]
    assert len(subjects) == len(set(subjects))
    assert set(subjects) == {
        "sulfur",
        "lime",
        "gypsum",
        "leaching",
        "iron_chelate",
        "vinegar",
        "aluminum_sulfate",
        "acid",
        "coffee_grounds",
        "wood_ash",
    }


@pytest.mark.parametrize("results", [(pH(8.1), LIMY), (pH(5.0),), (pH(7.2),), (Result("EC", PASTE, 6, "dS/m"),)])
@pytest.mark.parametrize("crop", ["tomato", "blueberry", "tall-fescue-lawn", None])
def test_every_answer_is_sourced_and_worded(library: Library, results: tuple[Result, ...], crop: str | None) -> None:
    """Each answer cites something, and every code it uses has an English and a Spanish sentence."""
    catalogue = Catalogue()
    for item in answers(library, *results, crop=crop, requests=EVERYTHING):
        assert item.sources
        assert item.verification
        codes = [item.text.code, *(f"step.{step.step}" for step in item.because)]
        codes += [application.when.code for application in item.applications]
        codes += [application.limit.code for application in item.applications if application.limit]
        if item.reason:
            assert item.reason.ask is not None
            codes += [f"reason.{item.reason.code}", item.reason.ask.code]
        for language in ("en", "es"):
            assert set(codes) <= set(catalogue.entries[language])


@pytest.mark.parametrize("crop", ["tomato", "tall-fescue-lawn"])
def test_no_amount_without_a_depth(library: Library, crop: str) -> None:
    """Depth unknown: nothing is turned into an amount per area."""
    results = (pH(5.2), Result("buffer_pH", "sikora", 6.0), Result("SAR", PASTE, 20))
    found = answers(library, *results, crop=crop, depth=None, requests=EVERYTHING, drainage="free")
    assert all(item.base_rate is None for item in found if item.subject in ("lime", "sulfur", "gypsum"))


def test_blueberry_on_limy_soil(library: Library) -> None:
    """Not suited, said without being asked, with its step; on acid soil nothing of the kind."""
    found = of(answers(library, pH(7.9), LIMY, crop="blueberry"), "crop_choice")
    assert found is not None
    assert found.kind == "not_suited"
    assert found.because
    assert of(answers(library, pH(5.0), crop="blueberry"), "crop_choice") is None


@pytest.mark.parametrize(
    ("value", "limy", "chelate"),
    [
        (6.4, False, "edta"),
        (6.5, False, "dtpa"),
        (7.499999, False, "dtpa"),
        (7.5, False, "eddha"),
        (7.0, True, "eddha"),
        (9.0, True, "eddha"),
        (9.000001, True, "foliar"),
    ],
)
def test_chelate_by_pH(library: Library, value: float, limy: bool, chelate: str) -> None:
    """EDTA to 6.5, DTPA to 7.5 (common practice), EDDHA to 9 (S-LOPEZ-RAYO, recalled); lime asks for EDDHA."""
    assert chelate_for(reference_of(library), value, limy)[0] == chelate


def test_yellow_leaves_where_iron_looks_adequate(library: Library) -> None:
    """Fe 9 mg/kg, lime, yellow new leaves: the test looks adequate, lime locks iron up; watering first, then EDDHA."""
    found = of(answers(library, pH(8.0), LIMY, iron(9), symptoms=("yellowing_new_leaves",)), "iron_chelate")
    assert found is not None
    assert (found.kind, found.text.code) == ("practice", "rec.iron_locked_eddha")
    assert found.base_rate is None


@pytest.mark.parametrize(
    ("crop", "value", "code"),
    [
        ("tomato", 5.0, "rec.iron_enough"),
        ("tomato", 4.999999, "rec.iron_watch"),
        ("tomato", 2.0, "rec.iron_watch"),
        ("peach", 2.5, "rec.iron_watch"),
        ("peach", 2.499999, "rec.iron_low_eddha"),
        ("kentucky-bluegrass-lawn", 2.0, "rec.iron_turf_low"),
    ],
)
def test_iron_asked_for(library: Library, crop: str, value: float, code: str) -> None:
    """Without yellow leaves 5 mg/kg DTPA iron is enough (usu, msu: 5.0). Below it nothing is sold but to a plant quick
    to lack iron with a truly low test (below 2.5: msu-eb0161, havlin-1999)."""
    found = of(answers(library, pH(8.0), LIMY, iron(value), crop=crop, requests=("iron",)), "iron_chelate")
    assert found is not None
    assert found.text.code == code


def test_turf_is_sprayed(library: Library) -> None:
    """Yellow bluegrass: ferrous sulfate on the leaves, at most 4 oz of product per 1,000 square feet (S-UA-TURF);
    nitrate of 2 mg/kg is named as another cause, 20 is not."""
    low, fair = (
        of(
            answers(
                library,
                *(pH(8.1), LIMY, iron(9.5), Result("NO3-N", "kcl_extract", nitrate, "mg/kg")),
                crop="kentucky-bluegrass-lawn",
                stage="established",
                symptoms=("yellowing_new_leaves",),
            ),
            "iron_chelate",
        )
        for nitrate in (2, 20)
    )
    assert low is not None
    assert fair is not None
    assert (low.text.code, fair.text.code) == ("rec.iron_turf_nitrogen", "rec.iron_turf")
    assert low.text.values["most"] == Quantity(4, "oz/1000 ft2")
    assert "S-UA-TURF" in low.sources


def test_no_iron_talk_unasked(library: Library) -> None:
    """Green plants: iron is not brought up; nor for yellow leaves on soil without lime."""
    assert of(answers(library, pH(8.0), LIMY, iron(9)), "iron_chelate") is None
    assert of(answers(library, pH(6.5), iron(9), symptoms=("yellowing_new_leaves",)), "iron_chelate") is None


def test_iron_without_pH(library: Library) -> None:
    """The pH decides which iron works: without it, none is named."""
    found = of(answers(library, iron(2), requests=("iron",)), "iron_chelate")
    assert found is not None
    assert found.reason is not None


CALM = (Result("Na", PASTE, 10, "meq/L"), Result("Ca", PASTE, 40, "meq/L"), Result("Mg", PASTE, 20, "meq/L"))


@pytest.mark.parametrize(
    ("results", "more", "kind", "code"),
    [
        ((Result("EC", PASTE, 7, "dS/m"), *CALM), {"drainage": "free"}, "water", "rec.leaching_reclamation_area"),
        ((Result("EC", PASTE, 7, "dS/m"), *CALM), {}, "do_not", "rec.leaching_withheld"),
        ((Result("EC", PASTE, 1.0, "dS/m"),), {"drainage": "free"}, "none_needed", "rec.leaching_none"),
        ((pH(8.0),), {"drainage": "free"}, "do_not", "rec.leaching_needs_ece"),
    ],
)
def test_leaching_asked_for(
    library: Library, results: tuple[Result, ...], more: dict[str, Any], kind: str, code: str
) -> None:
    """An amount when all is known, none needed when salt is low, else what is missing."""
    found = of(answers(library, *results, requests=("leaching",), **more), "leaching")
    assert found is not None
    assert (found.kind, found.text.code) == (kind, code)


def test_the_yearly_share_is_a_way_of_irrigating(library: Library) -> None:
    """A little salt, known water and season: a practice, not a reclamation that a person must read."""
    supply = IrrigationWater((Result("EC", "water_sample", 1.2, "dS/m"),), applied=Quantity(24, "in"))
    found = of(answers(library, Result("EC", PASTE, 2.6, "dS/m"), irrigation_water=supply), "irrigation")
    assert found is not None
    assert (found.kind, found.rate, found.text.code) == ("practice", None, "rec.leaching_maintenance_area")


def test_an_estimate_does_not_clear_leaching(library: Library) -> None:
    """A low estimate cannot say that no leaching is needed."""
    found = of(answers(library, Result("EC", "water_1_2", 0.3, "dS/m"), requests=("leaching",)), "leaching")
    assert found is not None
    assert found.kind != "none_needed"


def test_sodic_soil_says_no_gypsum_yet_unasked(library: Library) -> None:
    """SAR 20 and no CEC: the soil calls for gypsum, so it is said, with what is missing, even unasked."""
    found = of(answers(library, Result("SAR", PASTE, 20), drainage="free"), "gypsum")
    assert found is not None
    assert (found.kind, found.text.code) == ("do_not", "rec.gypsum_withheld")


def test_quiet_without_explanations(library: Library) -> None:
    """The same answers without steps."""
    loud, quiet = (answers(library, pH(8.1), LIMY, requests=EVERYTHING, explain=explain) for explain in (True, False))
    assert [(item.kind, item.subject, item.text) for item in loud] == [
        (item.kind, item.subject, item.text) for item in quiet
    ]
    assert not any(item.because for item in quiet)


def test_iron_is_spoken_of_once(library: Library) -> None:
    """Yellow bluegrass on lime with an adequate test: "need not buy iron" and "use iron" never stand together."""
    case = case_of(
        library,
        *(pH(8.1), LIMY, iron(9.5)),
        crop="kentucky-bluegrass-lawn",
        stage="established",
        symptoms=("yellowing_new_leaves",),
    )
    salts, exchangeable, acidity = judged(case)
    soil, rated = texture.texture_of(case), ratings.rate(case)
    nutrients = amounts.recommend(case, rated.findings, salts, exchangeable, acidity, soil, None)
    asked = requests.answer(case, salts, exchangeable, acidity, soil)
    told = [item.subject for item in (*nutrients.recommendations, *asked) if item.subject in ("Fe", "iron_chelate")]
    assert told == ["iron_chelate"]
