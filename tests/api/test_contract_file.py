"""The published contract: committed, valid, complete, and obeyed by the answers."""

import json
import re
from pathlib import Path

import jsonschema
import orjson
import pytest
from api_cases import URL, strict
from jsonschema import Draft202012Validator

from service.commands.contract import document_bytes

ROOT = Path(__file__).resolve().parents[2]
FILE = ROOT / "openapi" / "openapi.json"
DEMO = sorted((ROOT / "service" / "pages" / "demo").glob("*.json"))


@pytest.fixture(scope="session")
def contract():
    return json.loads(FILE.read_bytes())


def validator(contract, name):
    """A checker for one shape of the contract that allows nothing undeclared."""
    shapes = strict(contract["components"]["schemas"])
    schema = {"$ref": f"#/components/schemas/{name}", "components": {"schemas": shapes}}
    return Draft202012Validator(schema, format_checker=jsonschema.FormatChecker())


def test_file_and_code_agree():
    """After a change of the interface: saltbush openapi --output openapi/openapi.json, and a line in CHANGES.md."""
    assert document_bytes() == FILE.read_bytes()


def test_served_contract_is_the_file(client, contract):
    assert client.get("/v1/openapi.json").json == contract


def test_every_shape_is_a_json_schema_of_2020_12(contract):
    """OpenAPI 3.1 schemas are JSON Schema 2020-12."""
    assert contract["openapi"].startswith("3.1.")
    for schema in contract["components"]["schemas"].values():
        Draft202012Validator.check_schema(schema)


def test_every_reference_leads_somewhere(contract):
    for reference in re.findall(r'"\$ref":"#/([^"]+)"', orjson.dumps(contract).decode()):
        node = contract
        for key in reference.split("/"):
            assert key in node, f"#/{reference} leads nowhere: no {key!r}"
            node = node[key]


def test_published_operations_are_exactly_the_routes(app, contract):
    """Pages for people are not part of the contract."""
    routes = {
        (method.lower(), re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", rule.rule))
        for rule in app.url_map.iter_rules()
        for method in rule.methods - {"HEAD", "OPTIONS"}
        if not rule.endpoint.startswith(("pages.", "client."))
    }
    published = {
        (method, path) for path, node in contract["paths"].items() for method in node if method != "parameters"
    }
    assert published == routes


def test_operation_ids_are_unique_and_every_operation_is_described(contract):
    operations = [node[method] for node in contract["paths"].values() for method in node if method != "parameters"]
    ids = [operation["operationId"] for operation in operations]
    assert len(ids) == len(set(ids))
    assert all(operation["summary"] for operation in operations)


def test_exclusive_bounds_and_closed_words_reach_the_contract(contract):
    shapes = contract["components"]["schemas"]
    assert shapes["Sample"]["properties"]["container"]["enum"][:2] == ["plastic", "paper"]
    assert shapes["Sample"]["additionalProperties"] is False
    assert shapes["Depth"]["properties"]["top"]["minimum"] == 0
    assert shapes["Result"]["properties"]["value"]["type"] == ["number", "null"]


@pytest.mark.parametrize("case", DEMO, ids=lambda path: path.stem)
def test_answers_hold_their_shape(client, contract, case):
    """Every demo case: submission and answer as published, kept and not kept, not one undeclared field."""
    submission = json.loads(case.read_bytes())
    validator(contract, "Submission").validate(submission)
    for query in ("", "?store=false"):
        answer = client.post(f"{URL}{query}", json=submission)
        assert answer.status_code in (200, 201), answer.json
        validator(contract, "Interpretation").validate(answer.json)


def test_problems_hold_their_shape(client, contract):
    for answer in (client.get("/nothing"), client.post(URL, json={"x": 1}), client.post(URL, data="x")):
        Draft202012Validator({"$ref": "#/components/schemas/Problem", "components": contract["components"]}).validate(
            answer.json
        )


@pytest.mark.parametrize(
    ("address", "name"),
    [
        (URL, "Interpretations"),
        ("/v1/crops", "Crops"),
        ("/v1/crops/apple", "CropEdition"),
        ("/v1/tables", "Tables"),
        ("/v1/tables/classes/editions", "TableEditions"),
        ("/v1/tables/classes/editions/2025-01-01", "TableEdition"),
        ("/v1/tables/classes/editions/compare?from=2025-01-01&to=2025-01-01", "Comparison"),
        ("/v1/analytes", "Analytes"),
        ("/v1/methods", "Methods"),
        ("/v1/units", "Units"),
        ("/v1/words", "Words"),
        ("/v1/materials", "Materials"),
        ("/v1/sources", "Sources"),
        ("/healthz", "Status"),
        ("/readyz", "Ready"),
        ("/problems/not-found", "Kind"),
    ],
)
def test_lists_hold_their_shape(client, contract, address, name):
    validator(contract, name).validate(client.get(address).json)
