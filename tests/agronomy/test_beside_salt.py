"""What stands beside salt: boron in the verdict, chloride without a threshold, plants for a salty mixed garden.

Boron: snap bean 0.75-1.0, asparagus 10-15, celery 9.8 mg/L (Maas 1990). Chloride: 10 meq/L is the lowest threshold in
print (Maas 1990). Salt: asparagus 4.1 dS/m and 2.0 % (Maas and Hoffman).
"""

import pytest
from making import DAY, submission

from service.agronomy.findings import Interpretation, Note, Word
from service.agronomy.interpret import interpret
from service.agronomy.submission import Quantity, Result
from service.agronomy.tables import Library

PASTE = "saturated_paste_extract"


def answered(library: Library, *results: Result, crop: str) -> Interpretation:
    return interpret(submission(*results, crop=crop, stage="planting"), library, DAY)


def salt(ece: float, boron: float | None = None, chloride: float | None = None) -> tuple[Result, ...]:
    found = [Result("EC", PASTE, ece, "dS/m"), Result("P", "olsen", 12, "mg/kg")]
    if boron is not None:
        found.append(Result("B", PASTE, boron, "mg/L"))
    if chloride is not None:
        found.append(Result("Cl", PASTE, chloride, "meq/L"))
    return tuple(found)


def note_of(answer: Interpretation, code: str) -> Note | None:
    notes = answer.salinity.notes if answer.salinity else ()
    return next((note for note in notes if note.code == code), None)


def test_boron_above_the_threshold_is_the_verdict(library: Library) -> None:
    answer = answered(library, *salt(0.6, boron=3), crop="snap-bean")
    assert answer.summary is not None
    assert answer.summary.verdict.code == "summary.verdict_boron"
    assert answer.summary.verdict.values["B"] == Quantity(3, "mg/L")
    named = note_of(answer, "salt.boron_alternatives")
    assert named is not None
    assert named.values["plants"][0] == Word("crop", "asparagus")
    assert Word("crop", "lettuce") not in named.values["plants"]
    assert "summary.grow_boron_tolerant" in {line.code for line in answer.summary.actions}


def test_boron_stands_beside_salt(library: Library) -> None:
    """What would stand the salt but not the boron is not named: summer squash bears 2.7 mg/L."""
    answer = answered(library, *salt(6, boron=3), crop="snap-bean")
    assert answer.summary is not None
    assert answer.summary.verdict.code == "summary.verdict_and_boron"
    assert answer.salinity is not None
    assert "summer-squash" not in {plant.crop for plant in answer.salinity.alternatives}
    without = answered(library, *salt(6), crop="snap-bean")
    assert without.salinity is not None
    assert "summer-squash" in {plant.crop for plant in without.salinity.alternatives}


@pytest.mark.parametrize("boron", [0.5, None])
def test_boron_that_is_borne_changes_nothing(library: Library, boron: float | None) -> None:
    answer = answered(library, *salt(0.6, boron=boron), crop="snap-bean")
    assert answer.summary is not None
    assert "boron" not in answer.summary.verdict.code
    assert note_of(answer, "salt.boron_alternatives") is None


@pytest.mark.parametrize(
    ("chloride", "code"),
    [
        (9.9, "salt.chloride_no_threshold"),
        (10, "salt.chloride_no_threshold"),
        (10.1, "salt.chloride_no_threshold_over"),
    ],
)
def test_chloride_without_a_threshold_is_not_passed_over(library: Library, chloride: float, code: str) -> None:
    answer = answered(library, *salt(2, chloride=chloride), crop="vegetable-garden")
    note = note_of(answer, code)
    assert note is not None
    assert note.values == {"Cl": Quantity(chloride, "meq/L"), "line": Quantity(10, "meq/L")}
    assert note_of(answered(library, *salt(2, chloride=chloride), crop="snap-bean"), code) is None


def test_a_mixed_garden_on_salt_is_told_what_stands_it(library: Library) -> None:
    answer = answered(library, *salt(6), crop="vegetable-garden")
    assert answer.salinity is not None
    assert answer.summary is not None
    found = {plant.crop: plant.relative_yield_pct for plant in answer.salinity.alternatives}
    assert found["asparagus"] == pytest.approx(100 - 2.0 * (6 - 4.1))
    assert all(percent is not None and percent > 90 for percent in found.values())
    (line,) = [line for line in answer.summary.actions if line.code == "summary.grow_tolerant"]
    assert Word("crop", "asparagus") in line.values["plants"]
    sweet = answered(library, *salt(1.5), crop="vegetable-garden")
    assert sweet.salinity is not None
    assert sweet.salinity.alternatives == ()


@pytest.mark.parametrize("pH", [7.9, 6.4])
def test_two_phosphorus_tests_ask_for_none(library: Library, pH: float) -> None:
    """Olsen was sent: nobody is told to order it for the sake of a second extract beside it."""
    both = (Result("P", "olsen", 6, "mg/kg"), Result("P", "mehlich_3", 20, "mg/kg"), Result("P", "bray_1", 9, "mg/kg"))
    answer = answered(library, Result("pH", "saturated_paste", pH), *both, crop="vegetable-garden")
    about = [reason for reason in answer.reasons if reason.analyte == "P"]
    assert about
    assert all(reason.ask is None and reason.severity == "info" for reason in about)
    assert answer.outcome == "released"
    alone = answered(library, Result("pH", "saturated_paste", 7.9), both[2], crop="vegetable-garden")
    assert any(reason.ask is not None for reason in alone.reasons if reason.analyte == "P")
    assert alone.outcome == "partial"


def test_a_class_of_the_same_name_is_no_neighbour(library: Library) -> None:
    """Potassium 95 on a lawn: beyond 101 the table says *fairly high*, which is our medium too (umn-turf-bu1731)."""
    answer = answered(library, Result("K", "ammonium_acetate", 95, "mg/kg"), crop="tall-fescue-lawn")
    (finding,) = [found for found in answer.findings if found.analyte == "K"]
    assert (finding.rating, finding.borderline) == ("medium", None)
    near = answered(library, Result("K", "ammonium_acetate", 145, "mg/kg"), crop="tall-fescue-lawn")
    (finding,) = [found for found in near.findings if found.analyte == "K"]
    assert finding.borderline is not None
    assert finding.borderline.other_rating == "high"
