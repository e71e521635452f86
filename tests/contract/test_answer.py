"""The way out: every part that an interpretation may have, in the published shape."""

import json
from datetime import date
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from service.agronomy import findings as f
from service.agronomy.submission import Options, Quantity
from service.agronomy.tables import Source
from service.contract.answer import Issue, document, encoded

ROOT = Path(__file__).resolve().parents[2]
TABLE = f.EditionRef("classes", "2025-01-01", "0" * 64)
STEP = f.Step(
    "sar", "sar", {"Na": 40.0, "unit": Quantity(1, "meq/L"), "word": f.Word("rating", "high")}, 12.4, "1", ("S",)
)
ADVICE = f.Recommendation(
    "amendment",
    "gypsum",
    f.Note("rec.gypsum", {"rate": Quantity(100, "lb/1000 ft2")}),
    rate=Quantity(100, "lb/1000 ft2"),
    for_area=Quantity(320, "lb"),
    applications=(
        f.Application(
            f.Note("when.spring"),
            Quantity(50, "lb/1000 ft2"),
            f.Note("limit.gypsum"),
            date(2026, 4, 20),
            date(2026, 5, 20),
        ),
    ),
    because=(STEP,),
    sources=("S",),
    verification="read",
    calibration="utah",
    table=TABLE,
    base_rate=488.0,
)
WHOLE = f.Interpretation(
    outcome="partial",
    reasons=(f.Reason("p_method", "withhold", "P", {"x": 1.5}, f.Note("ask.olsen"), "/results/3"),),
    summary=f.Summary(f.Note("a"), (f.Note("b"),), (f.Note("c"),), "2029-04", f.Note("d")),
    findings=(
        f.Finding(
            "P", "olsen", Quantity(28, "mg/kg"), None, Quantity(28.0, "mg/kg"), "high", "rated", f.Note("finding.x"),
            "High", f.BandRef(25, None, "mg/kg", "lower <= x"), f.Borderline("medium", 0.18), "utah", TABLE, ("S",),
            "read", (f.Rival("montana", "medium", TABLE, ("S",)),), 1, (0.0, 4.0),
        ),
        f.Finding("lime", "acid_fizz", "strong", None, "strong", None, "not_rated", f.Note("finding.y")),
        f.Finding("B", None, None, "<", None, None, "withheld", f.Note("finding.z")),
    ),
    salinity=f.Salinity(
        f.EceEstimate(2.3, True, 1.8, 2.9, "water_1_2"), "slightly_saline", 88.0, (80.0, 95.0),
        f.Leaching("reclamation", Quantity(6, "in"), Quantity(1200, "gal"), 0.15, (f.Note("salt.drainage"),)),
        (f.Alternative("beet", 100.0),), (f.Note("salt.note"),), (STEP,), ("S",), "computed",
    ),
    sodium=f.Sodium(
        12.4, f.Esp(14.6, "from_SAR"), "sodic", "saline_sodic", 13.1, ADVICE, (f.Note("n"),), (STEP,), ("S",), "read"
    ),
    texture=f.Texture("sandy_loam", "coarse", "fractions", 60.0, 30.0, 10.0, ("loam",), (f.Note("n"),), ("S",), "read"),
    water=f.Water(
        (f.WaterHazard("salinity", "slight_to_moderate", Quantity(0.9, "dS/m"), ("S",), "read"),),
        3.1, 3.4, 0.5, (f.Note("n"),), (STEP,),
    ),
    recommendations=(ADVICE,),
    cautions=(f.Caution("lead", "danger", {"value": Quantity(260, "mg/kg")}, ("physician",), ("S",), "read"),),
    not_assessed=(f.NotAssessed("sodium", f.Note("missing.sodium"), f.Note("ask.na")),),
    quality_checks=(f.Check("ion_balance", "warn", {"cations": 20.1, "ok": True}, f.Note("check.ion_balance.warn")),),
    editions=(TABLE,),
    sources=("S",),
    crop="snap-bean",
    as_of=date(2026, 4, 20),
    materials=(
        f.MaterialUse(
            "N", "mine", "mine", "21-0-0-24S", Quantity(15, "lb"), Quantity(4.76, "lb/1000 ft2"), f.Note("why"), ("N",),
            (
                f.MaterialDose(
                    f.Note("when.spring"), Quantity(15, "lb"), Quantity(4.76, "lb/1000 ft2"), f.Note("household"),
                    date(2026, 4, 20), date(2026, 5, 20),
                ),
            ),
            f.Note("household"), (("S", Quantity(1.1, "lb/1000 ft2")),),
            f.Bags(1, Quantity(50, "lb"), Quantity(35, "lb")), (f.Note("how"),), (STEP,), ("S",), "practice", 23.2,
            Quantity(1, "lb/1000 ft2"),
        ),
    ),
    supply=(f.SupplyNote("short", f.Note("supply.short"), ("mine",), ("S",), "practice"),),
)  # fmt: skip
EMPTY = f.Interpretation(
    "refused", (), None, (), None, None, None, None, (), (), (), (), (), (), None, date(2026, 4, 20)
)
SOURCES = {"S": Source("S", "A. Author (1990). A work.", None, "A")}
ISSUE = Issue("2026-04-20T09:30:00+00:00", "saltbush 0.1.0+x", "1" * 64, "i", "2026-000001", None)


def told(found):
    return json.loads(encoded(document(found, Options(), ISSUE, SOURCES, lambda note: f"<{note.code}>")))


@pytest.fixture(scope="module")
def shape():
    def strict(node):
        if isinstance(node, list):
            return [strict(each) for each in node]
        if not isinstance(node, dict):
            return node
        made = {key: strict(value) for key, value in node.items()}
        return {**made, "additionalProperties": False} if isinstance(made.get("properties"), dict) else made

    shapes = strict(json.loads((ROOT / "openapi" / "openapi.json").read_bytes())["components"]["schemas"])
    return Draft202012Validator({"$ref": "#/components/schemas/Interpretation", "components": {"schemas": shapes}})


@pytest.mark.parametrize("found", [WHOLE, EMPTY], ids=["whole", "empty"])
def test_answer_has_exactly_the_published_shape(shape, found):
    shape.validate(told(found))


def test_answer_begins_with_what_belongs_to_the_record():
    """`replaced_by` is filled in later by exchanging these very bytes, before any text of a caller could come."""
    start = (
        b'{"id":"i","number":"2026-000001","issued_at":"2026-04-20T09:30:00+00:00","replaces":null,"replaced_by":null,'
    )
    assert encoded(document(WHOLE, Options(), ISSUE, SOURCES, lambda note: "")).startswith(start)


def test_codes_stand_beside_sentences_and_values_keep_their_kind():
    answer = told(WHOLE)
    assert answer["reasons"][0]["message"] == "<reason.p_method>"
    assert answer["cautions"][0]["text"] == "<caution.lead>"
    assert answer["cautions"][0]["consult"] == "<consult.physician>"
    step = answer["recommendations"][0]["because"][0]
    assert (step["step"], step["code"], step["value"]) == ("<step.sar>", "sar", 12.4)
    assert step["inputs"] == {"Na": 40.0, "unit": {"value": 1, "unit": "meq/L"}, "word": "high"}
    assert answer["findings"][0]["class"] == {"lower": 25, "upper": None, "unit": "mg/kg", "rule": "lower <= x"}
    assert answer["recommendations"][0]["applications"][0]["from"] == "2026-04-20"
    assert answer["sources"] == {"S": {"citation": "A. Author (1990). A work.", "url": None}}


def test_working_figures_of_the_core_stay_inside():
    assert b"base_rate" not in encoded(document(WHOLE, Options(), ISSUE, SOURCES, lambda note: ""))


@pytest.mark.parametrize(
    ("outcome", "by"), [("released", "rules"), ("partial", "rules"), ("held", None), ("refused", None)]
)
def test_only_what_was_released_says_by_whom(outcome, by):
    from dataclasses import replace

    assert told(replace(EMPTY, outcome=outcome))["provenance"]["released_by"] == by
