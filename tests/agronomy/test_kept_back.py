"""No amount is seen in a held answer before a person has read it (rule of the service, not a figure of the trade).

Every reader's submission, also with everything asked for, in every system of units, is stopped and searched.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.agronomy.decision import visible_to_submitter
from service.agronomy.findings import Interpretation, Note, Quantity, Reason, Recommendation, Step
from service.agronomy.interpret import interpret
from service.agronomy.kept_back import is_amount, without_amounts
from service.agronomy.tables import Library
from service.agronomy.units import Units
from service.blending import solve
from service.contract.problem import ProblemError
from service.contract.submission import load_submission

DAY = date(2026, 4, 20)
READERS = sorted((Path(__file__).parents[1] / "cases" / "readers").glob("*/*.json"))
STANDING = Reason("class_paused", "hold")
REQUESTS = [
    "manure",
    "compost",
    "organic_only",
    "gypsum",
    "lower_ph",
    "raise_ph",
    "leaching",
    "sulfur",
    "lime",
    "wood_ash",
    "fertilizer",
    "iron",
    "vinegar",
]
DIMENSIONS = frozenset(("mass", "volume", "length", "areal_rate", "per_tree"))
ALLOWED = frozenset(
    (
        "call_811",
        "caution.urea.water",
        "caution.urea.water_or_work",
        "near_water",
        "rec.aluminum_sulfate_in_lime",
        "rec.compost_saline",
        "rec.compost_test_first",
        "rec.compost_turf",
        "rec.manure_saline",
        "rec.manure_test_first",
        "rec.manure_turf",
        "rec.sulfur_not_in_lime",
        "rec.sulfur_not_in_limy",
        "rec.vinegar_in_lime",
        "summary.near_water",
        "water.nitrogen_credit",
        "water.nitrogen_each",
        "water.salt_load",
    )
)
"""Limits not to be passed, what would be in vain, depths to dig or water to, and what the well brings by itself."""


def coded(node: Any, code: str = "") -> Iterator[tuple[str, Quantity]]:
    """Every quantity of an answer, with the code of the nearest message around it."""
    if isinstance(node, Quantity):
        yield code, node
        return
    code = next((word for name in ("code", "step") if isinstance(word := getattr(node, name, None), str)), code)
    inside: Any = ()
    if isinstance(node, Mapping):
        inside = node.values()
    elif is_dataclass(node):
        inside = [getattr(node, item.name) for item in fields(node)]
    elif isinstance(node, tuple | list):
        inside = node
    for each in inside:
        yield from coded(each, code)


def held(library: Library, document: dict[str, Any]) -> Interpretation | None:
    try:
        received = load_submission(document, library, DAY)
    except ProblemError:
        return None
    found = interpret(received, library, DAY, solver=solve, standing=STANDING)
    return visible_to_submitter(found) if found.outcome == "held" else None


def amounts_in(library: Library, seen: Interpretation) -> set[str]:
    units = library.index(Units.of)
    told = [(code, each) for code, each in coded(seen) if units.known(each.unit)]
    return {code for code, each in told if units.dimension(each.unit) in DIMENSIONS} - ALLOWED


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    path=st.sampled_from(READERS),
    requests=st.lists(st.sampled_from(REQUESTS), unique=True),
    units=st.sampled_from(["us_garden", "us_field", "metric"]),
    results=st.sets(st.integers(0, 30), max_size=4),
)
def test_no_amount_is_seen_in_a_held_answer(
    library: Library, path: Path, requests: list[str], units: str, results: set[int]
) -> None:
    document = json.loads(path.read_bytes())
    document.setdefault("site", {})["requests"] = requests
    document.setdefault("options", {})["units"] = units
    kept = [each for place, each in enumerate(document["results"]) if place not in results]
    document["results"] = kept or document["results"]
    seen = held(library, document)
    if seen is not None:
        assert amounts_in(library, seen) == set()
        assert (seen.materials, seen.supply, seen.edited) == ((), (), ())
        assert all(item.because == () and item.rate is None for item in seen.recommendations)


def test_most_of_the_submissions_are_searched(library: Library) -> None:
    """A search of nothing finds nothing."""
    assert sum(held(library, json.loads(path.read_bytes())) is not None for path in READERS) > len(READERS) / 2


@pytest.mark.parametrize("code", ["rec.organic_brings", "rec.compost_layer_brings", "rec.anything_new"])
def test_a_practice_with_an_amount_is_left_out(code: str) -> None:
    brings = Note(code, {"more": (Note("rec.organic_volume", {"volume": Quantity(2, "yd3")}),)})
    assert without_amounts([Recommendation("practice", "compost", brings)]) == ()


def test_what_is_shown_loses_its_arithmetic() -> None:
    step = Step("organic_layer", "layer_brings", {}, 1.0, "lb/1000 ft2")
    (seen,) = without_amounts([Recommendation("practice", "compost", Note("rec.mulch_on_top"), because=(step,))])
    assert seen.because == ()


def test_every_unit_of_an_amount_is_told_from_a_content(library: Library) -> None:
    """Dimensions by the table of units; the core tells them by the unit alone."""
    units = library.index(Units.of)
    for unit in ("lb/1000 ft2", "lb/acre", "kg/ha", "g/m2", "lb/tree", "oz", "yd3", "in", "gal"):
        assert is_amount(unit), unit
    for unit in ("mg/kg", "meq/L", "dS/m", "%", "mg/L"):
        assert units.dimension(unit) not in DIMENSIONS
        assert not is_amount(unit), unit
