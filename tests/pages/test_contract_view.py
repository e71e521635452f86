"""The OpenAPI document as the documentation page shows it (OpenAPI 3.1, JSON Schema 2020-12)."""

from typing import Any

from flask.testing import FlaskClient

from service.pages.contract_view import kind_of, operations, shapes


def test_every_address_of_the_contract_is_shown(contract: dict[str, Any], client: FlaskClient) -> None:
    shown = {(one.method.lower(), one.path) for group in operations(contract) for one in group.operations}
    methods = ("get", "post", "put", "patch", "delete")
    published = {(verb, path) for path, item in contract["paths"].items() for verb in methods if verb in item}
    assert shown == published
    page = client.get("/docs").get_data(as_text=True)
    assert all(f"<code>{path}</code>" in page for _, path in published)
    for group in operations(contract):
        shown = client.get(f"/docs/{group.name}").get_data(as_text=True)
        for one in group.operations:
            assert f'<article class="operation" id="{one.id}"' in shown
            assert f'<li id="{one.id}"><a href="/docs/{group.name}?' in page, "an old link to /docs#... leads nowhere"


def test_every_shape_of_the_contract_is_shown(contract: dict[str, Any], client: FlaskClient) -> None:
    names = [shape.name for shape in shapes(contract)]
    assert names == sorted(contract["components"]["schemas"])
    index = client.get("/docs/shapes").get_data(as_text=True)
    for shape in shapes(contract):
        assert f"/docs/shapes/{shape.name}?" in index
        page = client.get(f"/docs/shapes/{shape.name}")
        assert page.status_code == 200
        assert len(page.data) < 100_000
        assert all(f"<code>{field.name}</code>" in page.get_data(as_text=True) for field in shape.fields)


def test_links_to_shapes_lead_somewhere(contract: dict[str, Any]) -> None:
    names = {shape.name for shape in shapes(contract)}
    linked = {answer.kind.shape for group in operations(contract) for one in group.operations for answer in one.answers}
    linked |= {field.kind.shape for shape in shapes(contract) for field in shape.fields}
    assert linked - {""} <= names


def test_kinds() -> None:
    assert kind_of({"$ref": "#/components/schemas/Sample"}).shape == "Sample"
    assert kind_of({"type": ["string", "null"]}).text == "string or null"
    assert kind_of({"enum": ["a", None]}).words == ("a", "null")
    assert kind_of({"type": "array", "items": {"$ref": "#/components/schemas/Result"}}).text == "list of Result"
    assert kind_of({"anyOf": [{"$ref": "#/components/schemas/Depth"}, {"type": "null"}]}).text == "Depth or null"
    assert kind_of({"type": "number", "minimum": 0, "exclusiveMaximum": 14}).text == "number, ≥ 0, < 14"
    assert kind_of({}).text == "any value"


def test_references_among_parameters_and_answers_are_followed() -> None:
    document = {
        "paths": {
            "/x": {
                "get": {
                    "parameters": [{"$ref": "#/components/parameters/Limit"}],
                    "responses": {"404": {"$ref": "#/components/responses/NotFound"}},
                }
            }
        },
        "components": {
            "parameters": {"Limit": {"name": "limit", "in": "query", "schema": {"type": "integer"}}},
            "responses": {"NotFound": {"description": "Nothing there"}},
        },
    }
    (group,) = operations(document)
    assert group.operations[0].parameters[0].name == "limit"
    assert group.operations[0].answers[0].about == "Nothing there"
