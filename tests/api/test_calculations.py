"""Single calculations over HTTP: names of the contract, strict inputs, pointers, words; no input breaks them."""

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from api_cases import strict
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from service.agronomy.calculations import CALCULATIONS, Input

ROOT = Path(__file__).resolve().parents[2]
CONTRACT = json.loads((ROOT / "openapi" / "openapi.json").read_bytes())
INPUTS = {
    "convert": "quantity value from to depth bulk_density_g_cm3 gravel_pct to_quantity",
    "texture": "sand_pct silt_pct clay_pct",
    "hydrometer": "dry_mass_g procedure readings blank calibration_temperature_C particle_density_g_cm3",
    "sar": "Na Ca Mg HCO3 ECw",
    "esp": "SAR Na_meq_100g CEC_meq_100g",
    "ece_estimate": "EC_dS_m method texture clay_pct",
    "relative_yield": "crop threshold_dS_m slope_pct_per_dS_m ECe_dS_m model",
    "leaching_requirement": "ECw_dS_m ECe_dS_m method et_mm",
    "reclamation_leaching": "ECe_now_dS_m ECe_wanted_dS_m ECw_dS_m depth soil water",
    "gypsum": "CEC_meq_100g ESP_now_pct ESP_wanted_pct depth bulk_density_g_cm3 efficiency purity_pct area",
    "sulfur": "pH_now pH_wanted texture lime_pct depth area",
    "lime": "buffer_method buffer_pH pH_now pH_wanted depth ECCE_pct",
    "nitrate_credit": "NO3_N_mg_kg depth bulk_density_g_cm3",
    "water_nitrate_credit": "NO3_N_mg_L applied",
    "product_amount": "nutrient rate area length width canopy_diameter count per_tree per_trunk_inch trunk_diameter"
    " grade material applications bag needs",
    "blend": "needs area materials objective constraints prices",
    "turf_nitrogen_schedule": "crop N_rate area as_of zone",
    "cores_needed": "cv_pct error_pct confidence_pct",
    "ion_balance": "cations anions EC_dS_m",
}
RESULTS = {
    "convert": "value unit",
    "texture": "class near",
    "hydrometer": "sand_pct silt_pct clay_pct class fractions",
    "sar": "SAR SAR_adjusted",
    "esp": "ESP_pct",
    "ece_estimate": "value low high unit",
    "relative_yield": "relative_yield_pct ECe_for_90_75_50_0",
    "leaching_requirement": "fraction applied_mm",
    "reclamation_leaching": "water_depth",
    "gypsum": "rate for_area equivalents",
    "sulfur": "advised rate lime_neutralization",
    "lime": "rate",
    "nitrate_credit": "credit",
    "water_nitrate_credit": "credit",
    "product_amount": "amount per_1000_ft2 also_supplies household grade treated per_application bags against_need",
    "blend": "products supplied excess salt_index_load cost",
    "turf_nitrogen_schedule": "applications",
    "cores_needed": "cores",
    "ion_balance": "cation_sum_meq_L anion_sum_meq_L difference_pct verdict",
}
"""Inputs and results as the contract names them."""


def address(name: str) -> str:
    return f"/v1/calculations/{name}"


def example(name: str) -> dict[str, Any]:
    """The declared example of each input."""
    return {each.name: each.example for each in CALCULATIONS[name].inputs if each.example is not None}


def faults(client: FlaskClient, name: str, **changes: Any) -> list[dict[str, Any]]:
    """The errors of a request that differs from the example; a change to ... leaves the field out."""
    body = {key: value for key, value in {**example(name), **changes}.items() if value is not ...}
    answer = client.post(address(name), json=body)
    assert answer.status_code == 422, answer.json
    assert answer.mimetype == "application/problem+json"
    return list(answer.json["errors"])


@lru_cache
def answer_shape() -> Draft202012Validator:
    shapes = strict(CONTRACT["components"]["schemas"])
    return Draft202012Validator({"$ref": "#/components/schemas/CalculationAnswer", "components": {"schemas": shapes}})


def test_inputs_are_those_of_the_contract() -> None:
    assert {name: {each.name for each in one.inputs} for name, one in CALCULATIONS.items()} == {
        name: set(inputs.split()) for name, inputs in INPUTS.items()
    }


@pytest.mark.parametrize("name", CALCULATIONS)
def test_results_have_the_names_of_the_contract(client: FlaskClient, name: str) -> None:
    """Every calculation answers its declared example, with every field of the contract, in the published shape."""
    answer = client.post(address(name), json=example(name))
    assert answer.status_code == 200, answer.json
    assert answer.json["status"] == "given"
    assert set(RESULTS[name].split()) <= answer.json["result"].keys()
    assert answer.json["steps"]
    answer_shape().validate(answer.json)


@pytest.mark.parametrize("name", CALCULATIONS)
def test_requests_are_published_strictly(name: str) -> None:
    """The request shape in the contract names every input, the required ones, and allows nothing else."""
    body = CONTRACT["paths"][address(name)]["post"]["requestBody"]["content"]["application/json"]["schema"]
    shape = CONTRACT["components"]["schemas"][body["$ref"].rsplit("/", 1)[1]]
    declared = CALCULATIONS[name].inputs
    assert shape["additionalProperties"] is False
    assert set(shape["properties"]) == {each.name for each in declared}
    assert set(shape.get("required", ())) == {each.name for each in declared if each.required}
    Draft202012Validator({**shape, "components": CONTRACT["components"]}).validate(example(name))


@pytest.mark.parametrize("name", CALCULATIONS)
def test_every_required_input_is_missed(client: FlaskClient, name: str) -> None:
    for each in CALCULATIONS[name].inputs:
        if each.required:
            found = faults(client, name, **{each.name: ...})
            assert {"pointer": f"/{each.name}", "code": "missing"}.items() <= found[0].items()


@pytest.mark.parametrize("name", CALCULATIONS)
def test_unknown_fields_and_texts_for_numbers_are_refused(client: FlaskClient, name: str) -> None:
    assert faults(client, name, surprise=1)[0]["pointer"] == "/surprise"
    for each in CALCULATIONS[name].inputs:
        if each.kind == "number":
            for wrong in ("7", True, [7], {"value": 7}):
                assert faults(client, name, **{each.name: wrong})[0]["pointer"] == f"/{each.name}"
        if each.kind == "quantity":
            assert faults(client, name, **{each.name: 7})[0]["pointer"].startswith(f"/{each.name}")
            assert faults(client, name, **{each.name: {"value": 7}})[0]["pointer"] == f"/{each.name}/unit"
            assert faults(client, name, **{each.name: {"value": 7, "unit": "cubits"}})[0]["code"] == "unknown_unit"


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b"7", b'{"SAR": NaN}', b'{"SAR": 1e999}', b'"\xff"'])
def test_bodies_that_are_no_request(client: FlaskClient, body: bytes) -> None:
    answer = client.post(address("esp"), data=body, content_type="application/json")
    assert answer.status_code in (400, 422)
    assert answer.mimetype == "application/problem+json"


@pytest.mark.parametrize(
    ("name", "changes", "pointer", "code"),
    [
        ("relative_yield", {"crop": "tomatoe"}, "/crop", "unknown_crop"),
        ("turf_nitrogen_schedule", {"crop": "apple"}, "/crop", "not_a_lawn"),
        ("product_amount", {"material": "ureea"}, "/material", "unknown_material"),
        ("product_amount", {"material": ..., "grade": "60-60-60"}, "/grade", "grade_over_100"),
        ("convert", {"quantity": "lenght"}, "/quantity", "unknown_quantity"),
        ("convert", {"to": "acre"}, "/to", "unit_does_not_fit"),
        ("sar", {"Ca": {"value": 5, "unit": "mg/kg"}}, "/Ca/unit", "unit_does_not_fit"),
        ("gypsum", {"depth": {"value": 6, "unit": "acre"}}, "/depth/unit", "unit_does_not_fit"),
        ("gypsum", {"depth": {"value": 0, "unit": "in"}}, "/depth/value", "out_of_range"),
        ("ion_balance", {"cations": {"a/b": {"value": 1, "unit": "meq/L"}}}, "/cations/a~1b", "unknown_ion"),
        ("ion_balance", {"anions": {"Cl": {"value": 1, "unit": "in"}}}, "/anions/Cl/unit", "unit_does_not_fit"),
        ("ece_estimate", {"EC_dS_m": 1450}, "/EC_dS_m", "impossible_value"),
        ("ece_estimate", {"method": "probe"}, "/method", "unknown_word"),
        ("lime", {"buffer_pH": 4.2}, "/buffer_pH", "out_of_range"),
        ("leaching_requirement", {"ECw_dS_m": 9}, "/ECw_dS_m", "out_of_range"),
        ("hydrometer", {"dry_mass_g": 10}, "/readings", "out_of_range"),
        ("cores_needed", {"confidence_pct": 100}, "/confidence_pct", "out_of_range"),
        ("turf_nitrogen_schedule", {"as_of": "April"}, "/as_of", "not_a_date"),
    ],
)
def test_faults_are_pointed_to(
    client: FlaskClient, name: str, changes: dict[str, Any], pointer: str, code: str
) -> None:
    first = faults(client, name, **changes)[0]
    assert (first["pointer"], first["code"]) == (pointer, code)
    assert first["message"]
    assert first["expected"]


@pytest.mark.parametrize(
    ("name", "field", "wrong", "right"),
    [
        ("relative_yield", "crop", "tomatoe", "tomato"),
        ("product_amount", "material", "ureea", "urea"),
        ("convert", "quantity", "lenght", "length"),
    ],
)
def test_near_misses_are_suggested_never_taken(
    client: FlaskClient, name: str, field: str, wrong: str, right: str
) -> None:
    assert right in faults(client, name, **{field: wrong})[0]["suggestions"]


def test_a_withheld_answer_has_no_amount(client: FlaskClient) -> None:
    """Boron: the reason and what to send, no figure, no step that would give one away."""
    body = {**example("product_amount"), "nutrient": "B", "material": "borax"}
    answer = client.post(address("product_amount"), json=body).json
    assert answer["status"] == "withheld"
    assert set(answer["result"].values()) == {None}
    assert answer["steps"] == []
    assert answer["reasons"][0]["severity"] == "hold"
    assert answer["reasons"][0]["ask"]
    answer_shape().validate(answer)


def test_words_follow_the_language_and_figures_do_not(client: FlaskClient) -> None:
    body = example("gypsum")
    english, spanish = (
        client.post(address("gypsum"), json=body, headers={"Accept-Language": language}).json
        for language in ("en", "es-MX,es;q=0.9")
    )
    assert english["result"]["rate"] == spanish["result"]["rate"]
    assert {each["code"] for each in english["warnings"]} == {each["code"] for each in spanish["warnings"]}
    assert all(
        one["message"] != other["message"] for one, other in zip(english["warnings"], spanish["warnings"], strict=True)
    )
    assert "[" not in "".join(each["message"] for each in (*english["warnings"], *spanish["warnings"]))


FIGURES = st.one_of(
    st.floats(-1e13, 1e13),
    st.floats(0, 20),
    st.sampled_from([0, -0.0, 1e-300, 1e12, -1, 7, 13, 100, 1e308, 5e-324]),
    st.integers(-(10**20), 10**20),
)
UNITS = st.sampled_from(
    ["in", "cm", "acre", "ft2", "m2", "meq/L", "mg/L", "ppm", "lb/acre", "lb/1000 ft2", "%", "?", ""]
)
QUANTITIES = st.fixed_dictionaries({"value": FIGURES, "unit": UNITS})
READINGS = st.lists(
    st.fixed_dictionaries({"minutes": FIGURES, "reading_g_per_L": FIGURES, "temperature_C": FIGURES}), max_size=4
)
TEXTS = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["urea", "21-0-0", "tomato", "tall-fescue-lawn", "P2O5", "length", "6b", "--"]),
)
JUNK = st.one_of(st.none(), st.booleans(), TEXTS, FIGURES, QUANTITIES, st.lists(FIGURES, max_size=2))


def figures(declared: Input) -> st.SearchStrategy[Any]:
    """Values of the right kind, sensible or not, and now and then something else."""
    right: dict[str, st.SearchStrategy[Any]] = {
        "number": FIGURES,
        "quantity": QUANTITIES,
        "word": st.sampled_from([*declared.words, "loam", "x"]),
        "unit": UNITS,
        "readings": READINGS,
        "quantities": st.dictionaries(st.sampled_from(["Na", "Ca", "Cl", "SO4", "NO3", "/~"]), QUANTITIES, max_size=4),
        "date": st.one_of(st.dates().map(str), TEXTS),
    }
    usual = st.just(declared.example) if declared.example is not None else st.nothing()
    return st.one_of(usual, usual, right.get(declared.kind, TEXTS), right.get(declared.kind, TEXTS), JUNK)


@pytest.mark.parametrize("name", CALCULATIONS)
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_input_gets_a_server_error(client: FlaskClient, name: str, data: st.DataObject) -> None:
    """Whatever is sent: an answer in the published shape with finite figures, or a problem that names a field."""
    body = {
        each.name: data.draw(figures(each), each.name)
        for each in CALCULATIONS[name].inputs
        if data.draw(st.integers(0, 9), "sent") > 0
    }
    answer = client.post(address(name), data=json.dumps(body), content_type="application/json")
    assert answer.status_code in (200, 400, 422), body
    if answer.status_code == 200:
        answer_shape().validate(answer.json)
        assert set(RESULTS[name].split()) <= answer.json["result"].keys()
    elif answer.status_code == 422:
        assert all(error["code"] and error["expected"] for error in answer.json["errors"])
