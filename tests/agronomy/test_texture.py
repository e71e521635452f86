"""Texture classes against published points and an independent library; where each answer comes from."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pedotri
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from service.agronomy import door, quality
from service.agronomy.errors import OutOfRange, TableError
from service.agronomy.findings import Texture
from service.agronomy.sample import Case
from service.agronomy.submission import Depth, Options, Quantity, Result, Sample, Site, Submission, Target
from service.agronomy.tables import Library
from service.agronomy.texture import by_feel, texture_of
from service.agronomy.triangle import Triangle, complete

CASES = yaml.safe_load(Path(__file__).with_name("references").joinpath("methods.yaml").read_text("utf-8"))
POINTS = [(sand, 100 - sand - clay, clay) for sand in range(101) for clay in range(101 - sand)]
type_of_reader = Callable[..., Texture | None]


@pytest.fixture(scope="module")
def triangle(library: Library) -> Triangle:
    return library.index(Triangle.of)


@pytest.fixture(scope="module")
def case_of(library: Library) -> Callable[..., Case]:
    """Builds a case from results and a site, with the quality checks applied."""

    def build(*results: Result, explain: bool = True, units: str = "us_garden", **site: Any) -> Case:
        submission = Submission(
            sample=Sample(depth=Depth(0, 6, "in")),
            results=results,
            target=Target(),
            site=Site(**site),
            options=Options(units=units),
        )
        case = door.understand(submission, library, date(2026, 4, 20), explain).case
        checked = quality.check(case)
        return case.trusting(checked.voids, checked.weakened)

    return build


def fractions(sand: float, silt: float, clay: float, method: str = "hydrometer") -> list[Result]:
    shares = (("sand", sand), ("silt", silt), ("clay", clay))
    return [Result(name, method, share, "%") for name, share in shares]


@pytest.mark.parametrize("case", CASES["texture"], ids=lambda case: case["id"])
def test_published_points(triangle: Triangle, case: dict[str, Any]) -> None:
    """Points with the class their source prints; those on a line follow the Soil Survey Manual."""
    assert triangle.classify(*case["point"]) == case["class"]


def test_every_whole_point_has_one_class(triangle: Triangle) -> None:
    """All 5151 whole-percent points; exactly one class holds at each, so the order of rows does not decide."""
    alone = {name: Triangle(rows, {}, (), 3) for name, rows in _rows_by_class(triangle).items()}
    for point in POINTS:
        holding = [name for name, single in alone.items() if _holds(single, point)]
        assert holding == [triangle.classify(*point)]


def _rows_by_class(triangle: Triangle) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for row in triangle.rows:
        found.setdefault(row.texture, []).append(row)
    return found


def _holds(single: Triangle, point: tuple[int, int, int]) -> bool:
    try:
        single.classify(*point)
    except TableError:  # the one class does not hold and no other is there to be found
        return False
    return True


def test_against_pedotri(triangle: Triangle) -> None:
    """pedotri gives points on a shared line to the other neighbour: 72 of 5151 points, each within 0.5 points of it."""
    differing = []
    for sand, silt, clay in POINTS:
        theirs = pedotri.classify(sand=sand, clay=clay, classification="USDA")
        if theirs != triangle.classify(sand, silt, clay):
            differing.append(((sand, silt, clay), theirs))
    assert len(differing) <= 72
    for point, name in differing:
        assert name in triangle.near(*point, points=0.5)


def test_share_that_three_points_move(triangle: Triangle) -> None:
    """About 35 % of points change class when 3 points move between two fractions (numerical check of the classes)."""
    moved = sum(1 for point in POINTS if triangle.near(*point, points=3))
    assert 0.30 < moved / len(POINTS) < 0.45


@given(sand=st.integers(0, 100), clay=st.integers(0, 100))
def test_nearness_is_mutual(library: Library, sand: int, clay: int) -> None:
    """A point well inside its class has no neighbour; a named neighbour is reached by moving at most 3 points."""
    if sand + clay > 100:
        return
    triangle = library.index(Triangle.of)
    point = (sand, 100 - sand - clay, clay)
    for other in triangle.near(*point, points=3):
        assert other != triangle.classify(*point)
        assert any(triangle.classify(*near) == other for near in _within(point, 3))


def _within(point: tuple[int, int, int], reach: int) -> list[tuple[int, ...]]:
    found = []
    for source in range(3):
        for target in range(3):
            moved = min(reach, point[source])
            near = [*point]
            near[source] -= moved
            near[target] += moved
            found.append(tuple(near))
    return found


@pytest.mark.parametrize(
    ("given_", "expected"),
    [
        ((40, 40, None), (40, 40, 20)),
        ((None, 40, 20), (40, 40, 20)),
        ((40, None, 20), (40, 40, 20)),
        ((40, 40, 20), (40, 40, 20)),
        ((40.4, 40.4, 20.2), (40, 40, 20)),
        ((100, 0, None), (100, 0, 0)),
        ((0, None, 0), (0, 100, 0)),
    ],
)
def test_third_fraction_is_the_difference(given_: tuple[float | None, ...], expected: tuple[float, ...]) -> None:
    """Arithmetic: three shares of one whole."""
    assert complete(*given_) == pytest.approx(expected)


@pytest.mark.parametrize("given_", [(40, None, None), (None, None, None), (60, 50, None), (-1, 50, 51), (0, 0, 0)])
def test_what_is_no_triangle_is_refused(given_: tuple[float | None, ...]) -> None:
    """A missing fraction is never zero."""
    with pytest.raises(OutOfRange):
        complete(*given_)


@pytest.mark.parametrize("point", [(60, 50, -10), (40, 40, 40), (101, -1, 0)])
def test_outside_the_triangle(triangle: Triangle, point: tuple[float, float, float]) -> None:
    """No class outside."""
    with pytest.raises(OutOfRange):
        triangle.classify(*point)


def test_from_fractions(case_of: Callable[..., Case]) -> None:
    """Clay loam on the corner of three classes names its neighbours (common practice: within 3 points)."""
    found = texture_of(case_of(*fractions(45, 28, 27)))
    assert found is not None
    assert (found.texture_class, found.group, found.how) == ("clay_loam", "fine", "fractions")
    assert (found.sand_pct, found.silt_pct, found.clay_pct) == (45, 28, 27)
    assert set(found.near) == {"loam", "sandy_clay_loam"}
    assert found.notes[0].code == "texture.near"
    assert found.sources == ("SSSA-GLOS",)


def test_explanations_do_not_change_the_class(case_of: Callable[..., Case]) -> None:
    """Without explanations the class is the same and the notes are fewer."""
    quiet = texture_of(case_of(*fractions(45, 28, 27), explain=False))
    assert quiet is not None
    assert (quiet.texture_class, quiet.near) == ("clay_loam", ())


def test_rounded_fractions_are_rescaled(case_of: Callable[..., Case]) -> None:
    """A sum of 102 is rounding (common practice: 97 to 103); 140 is no analysis."""
    found = texture_of(case_of(*fractions(41, 41, 20)))
    assert found is not None
    assert found.sand_pct == pytest.approx(4100 / 102)
    assert texture_of(case_of(*fractions(60, 50, 30))) is None


def test_hydrometer_readings(case_of: Callable[..., Case]) -> None:
    """Readings of the worked two-reading example, with temperatures: sandy clay loam."""
    readings = [
        Result("hydrometer_40s", None, 25, "g/L"),
        Result("hydrometer_40s_temperature", None, 22, "C"),
        Result("hydrometer_2h", None, 15, "g/L"),
        Result("hydrometer_2h_temperature", None, 23, "C"),
        Result("hydrometer_mass", None, 50, "g"),
    ]
    found = texture_of(case_of(*readings))
    assert found is not None
    assert (found.texture_class, found.how) == ("sandy_clay_loam", "hydrometer_readings")
    assert found.clay_pct == pytest.approx(32.59, abs=0.01)
    without = [r for r in readings if "temperature" not in r.analyte]
    assert texture_of(case_of(*without)) is None
    blank = texture_of(case_of(*without, Result("hydrometer_blank", None, 2, "g/L")))
    assert blank is not None
    assert blank.clay_pct == pytest.approx(26)
    assert texture_of(case_of(*[r for r in readings if r.analyte != "hydrometer_mass"])) is None


def test_late_reading_nearest_to_two_micrometres(case_of: Callable[..., Case]) -> None:
    """A reading of 6 to 8 hours is preferred to the one of 2 hours (University of Minnesota laboratory)."""
    readings = [("hydrometer_40s", 25), ("hydrometer_2h", 15), ("hydrometer_8h", 12), ("hydrometer_blank", 2)]
    results = [Result(name, None, value, "g/L") for name, value in readings]
    found = texture_of(case_of(*results, Result("hydrometer_mass", None, 50, "g")))
    assert found is not None
    assert found.clay_pct == pytest.approx(20)


def test_words_of_a_laboratory_or_a_hand(case_of: Callable[..., Case]) -> None:
    """The laboratory's word comes before the client's belief; fractions come before both."""
    stated = Result("texture", "not_stated", text="loam")
    found = texture_of(case_of(stated, texture="sand"))
    assert found is not None
    assert (found.texture_class, found.how) == ("loam", "laboratory_class")
    felt = texture_of(case_of(Result("texture", "feel", text="loam")))
    assert felt is not None
    assert felt.how == "feel"
    both = texture_of(case_of(stated, *fractions(90, 5, 5)))
    assert both is not None
    assert both.texture_class == "sand"
    jar = texture_of(case_of(stated, *fractions(90, 5, 5, "jar")))
    assert jar is not None
    assert jar.how == "laboratory_class"


def test_jar_and_site(case_of: Callable[..., Case]) -> None:
    """A jar test is worth more than a belief; a belief may be a group word."""
    jar = texture_of(case_of(*fractions(90, 5, 5, "jar"), texture="fine"))
    assert jar is not None
    assert (jar.texture_class, jar.how) == ("sand", "jar")
    group = texture_of(case_of(texture="fine"))
    assert group is not None
    assert (group.texture_class, group.group, group.how) == ("fine", "fine", "stated")
    assert texture_of(case_of()) is None


@pytest.mark.parametrize(
    ("answers", "expected"),
    [
        ({"ribbon": "none", "ball": "no"}, {"sand"}),
        ({"ribbon": "under_1_in", "grit": "gritty"}, {"sandy_loam"}),
        ({"ribbon": "from_1_to_2_in", "grit": "smooth"}, {"silty_clay_loam"}),
        ({"ribbon": "over_2_in", "grit": "neither"}, {"clay"}),
        ({"ribbon": "over_2_in"}, {"sandy_clay", "silty_clay", "clay"}),
        ({"ribbon": "none", "grit": "smooth"}, set()),
        ({}, set()),
    ],
)
def test_feel(triangle: Triangle, answers: dict[str, str], expected: set[str]) -> None:
    """Ribbon lengths of Colorado State's feel chart (1 and 2 inches); grit and ball are common practice."""
    assert set(by_feel(triangle, answers)[0]) == expected


def test_feel_in_a_case(case_of: Callable[..., Case]) -> None:
    """Several classes of one group become the group's word; of several groups, nothing."""
    clayey = texture_of(case_of(observations={"ribbon": "over_2_in"}))
    assert clayey is not None
    assert (clayey.texture_class, clayey.how) == ("fine", "feel")
    assert set(clayey.near) == {"sandy_clay", "silty_clay", "clay"}
    assert texture_of(case_of(observations={"grit": "smooth"})) is None


def test_working_figures(case_of: Callable[..., Case]) -> None:
    """Figures of the class are notes, in the client's units; a dense soil is told where roots stop (UF)."""
    dense = Result("bulk_density", "core", 1.6, "g/cm3")
    found = texture_of(case_of(*fractions(30, 40, 30), dense))
    assert found is not None
    notes = {note.code: note.values for note in found.notes}
    assert notes["texture.available_water"]["low"] == Quantity(1.7, "in/ft")
    assert notes["texture.compacted"]["limit"] == Quantity(1.45, "g/cm3")
    metric = texture_of(case_of(*fractions(30, 40, 30), units="metric"))
    assert metric is not None
    notes = {note.code: note.values for note in metric.notes}
    assert notes["texture.available_water"]["low"] == Quantity(142, "mm/m")
    assert notes["texture.infiltration"]["high"] == Quantity(10.2, "mm/h")
    assert "texture.compacted" not in notes
    sand = texture_of(case_of(*fractions(95, 3, 2)))
    assert sand is not None
    assert "texture.infiltration_above" in {note.code for note in sand.notes}
