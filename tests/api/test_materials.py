"""Materials through the interface: in the answer, in the text, kept back where amounts are, refused with a pointer."""

from typing import Any

from api_cases import LAWN
from flask.testing import FlaskClient

ADDRESS = "/v1/interpretations"


def answered(client: FlaskClient, document: dict[str, Any], status: int = 200) -> dict[str, Any]:
    reply = client.post(f"{ADDRESS}?store=false", json=document)
    assert reply.status_code == status, reply.get_data(as_text=True)
    found: dict[str, Any] = reply.get_json()
    return found


def with_wishes(document: dict[str, Any], wishes: dict[str, Any]) -> dict[str, Any]:
    return {**document, "options": {**document.get("options", {}), "materials": wishes}}


def test_the_lawn_is_told_what_to_buy(client: FlaskClient) -> None:
    """Each material with amount, doses, reason and sources; every source is cited; the lay page names it."""
    answer = answered(client, LAWN)
    assert answer["materials"]
    for use in answer["materials"]:
        assert use["amount"]["value"] > 0
        assert use["per_application"]
        assert use["why"]
        assert set(use["sources"]) <= set(answer["sources"])
        name = use["name"][0].lower() + use["name"][1:]
        assert any(name in action for action in answer["summary"]["actions"])


def test_the_text_report_tells_the_materials(client: FlaskClient) -> None:
    """Under their own heading, with the doses."""
    reply = client.post(ADDRESS, json=LAWN)
    text = client.get(f"{ADDRESS}/{reply.get_json()['id']}.txt").get_data(as_text=True)
    part = text.split("\nMATERIALS\n")[1]
    for use in reply.get_json()["materials"]:
        assert use["name"] in part


def test_own_products_come_in_bags(client: FlaskClient) -> None:
    """The client's own id, bags to buy and what is left."""
    bag = {"value": 50, "unit": "lb"}
    shelf = [{"id": "bag A", "grade": "21-0-0-24S", "bag": bag, "price": 20}]
    answer = answered(client, with_wishes(LAWN, {"objective": "cost", "products": shelf}))
    (use,) = [each for each in answer["materials"] if each["material"] == "bag A"]
    assert use["bags"]["count"] >= 1
    assert use["bags"]["size"] == {"value": 50.0, "unit": "lb"}
    assert use["bags"]["left_over"]["value"] < 50


def test_wrong_wishes_are_refused_with_pointers(client: FlaskClient) -> None:
    """Two faults, two pointers."""
    wishes = {"only": ["ureaa"], "products": [{"id": "a", "grade": "60-60-0"}]}
    problem = answered(client, with_wishes(LAWN, wishes), 422)
    assert {error["pointer"] for error in problem["errors"]} == {"/options/materials/products/0/grade"}
    problem = answered(client, with_wishes(LAWN, {"only": ["ureaa"]}), 422)
    assert problem["errors"][0]["pointer"] == "/options/materials/only/0"
    assert "urea" in problem["errors"][0]["suggestions"]


def test_a_held_answer_keeps_the_materials_back(client: FlaskClient) -> None:
    """Lead at the level holds the case: neither materials nor what is said of the choice."""
    lead = {"analyte": "Pb", "method": "total_digest", "value": 900, "unit": "mg/kg"}
    answer = answered(client, {**LAWN, "results": [*LAWN["results"], lead]})
    assert answer["outcome"] == "held"
    assert answer["materials"] == answer["supply"] == []
