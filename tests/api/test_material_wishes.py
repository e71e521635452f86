"""Wishes on materials as clients send them: bags by volume, and whatever else: an answer, or a refusal that points."""

import json
from pathlib import Path
from typing import Any

import pytest
from api_cases import LAWN
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

ADDRESS = "/v1/interpretations?store=false"
REQUESTS = Path(__file__).parent / "requests"
WEIGH = "volume_without_density"
CUBIC_FOOT = {"value": 1, "unit": "ft3"}


def posted(client: FlaskClient, wishes: Any) -> tuple[int, dict[str, Any]]:
    document = {**LAWN, "options": {**LAWN.get("options", {}), "materials": wishes}}
    reply = client.post(ADDRESS, data=json.dumps(document), content_type="application/json")
    found: dict[str, Any] = reply.get_json()
    return reply.status_code, found


def test_a_bag_by_volume_is_weighed_by_its_density(client: FlaskClient) -> None:
    """One cubic foot (28.32 L, exact) of ammonium sulfate at 1.03 kg/L (the table) weighs 64.3 lb."""
    shelf = [{"id": "mine", "material": "ammonium_sulfate", "bag": CUBIC_FOOT}]
    status, answer = posted(client, {"products": shelf})
    assert status == 200
    (use,) = [each for each in answer["materials"] if each["material"] == "mine"]
    assert use["bags"]["size"]["unit"] == "lb"
    assert use["bags"]["size"]["value"] == pytest.approx(28.3168 * 1.03 / 0.45359237, rel=0.001)


@pytest.mark.parametrize(
    ("wishes", "pointer", "code"),
    [
        ({"products": [{"id": "a", "grade": "21-0-0", "bag": CUBIC_FOOT}]}, "products/0/bag", WEIGH),
        ({"at_hand": [{"grade": "21-0-0", "amount": CUBIC_FOOT}]}, "at_hand/0/amount", WEIGH),
        ({"products": [{"id": "a", "grade": "21-0-0", "bag": {"value": 5, "unit": "ft"}}]}, "products/0/bag", ""),
        ({"products": [{"id": "a", "grade": "21-0-0", "bag": {"value": 1e-300, "unit": "g"}}]}, "products/0/bag", ""),
        ({"at_hand": [{"material": "urea", "amount": {"value": 1e300, "unit": "kg"}}]}, "at_hand/0/amount", ""),
    ],
)
def test_what_cannot_be_weighed_is_refused_by_name(
    client: FlaskClient, wishes: dict[str, Any], pointer: str, code: str
) -> None:
    status, problem = posted(client, wishes)
    assert status == 422
    (error,) = problem["errors"]
    assert error["pointer"].startswith(f"/options/materials/{pointer}")
    assert not code or error["code"] == code


figures = st.one_of(st.floats(allow_nan=False, allow_infinity=False), st.integers(-5, 10**20), st.none(), st.text())
grades = st.one_of(st.sampled_from(["21-0-0", "46-0-0", "0-0-0", "90-90-90", "16-20-0-13S", "1e3-0-0"]), st.text())
names = st.one_of(st.sampled_from(["urea", "ammonium_sulfate", "gypsum", "yard_compost", "bag A", "", "ureaa"]), grades)
amounts = st.one_of(
    st.fixed_dictionaries({"value": figures, "unit": st.sampled_from(["lb", "kg", "ft3", "L", "oz", "ft", "", "g"])}),
    figures,
)
products = st.fixed_dictionaries(
    {"id": names},
    optional={
        "grade": grades,
        "material": names,
        "bag": amounts,
        "price": figures,
        "slow_release_pct": figures,
        "chloride": st.one_of(st.booleans(), st.text()),
    },
)
wished = st.fixed_dictionaries(
    {},
    optional={
        "objective": st.sampled_from(["cost", "salt", "few_products", "excess", "least"]),
        "only": st.lists(names, max_size=3),
        "whole_bags": st.booleans(),
        "most_products": figures,
        "at_hand": st.lists(
            st.fixed_dictionaries({"amount": amounts}, optional={"grade": grades, "material": names}), max_size=2
        ),
        "products": st.lists(products, max_size=3),
    },
)


@given(wishes=wished)
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_is_wished_gets_an_answer_or_a_pointer(client: FlaskClient, wishes: dict[str, Any]) -> None:
    status, body = posted(client, wishes)
    assert status in (200, 422), body
    if status == 422:
        assert all(error["pointer"].startswith("/options/materials") for error in body["errors"])


good_amounts = st.builds(
    lambda value, unit: {"value": value, "unit": unit}, st.floats(0.02, 1e9), st.sampled_from(["lb", "kg", "oz"])
)
good = st.fixed_dictionaries(
    {
        "objective": st.sampled_from(["salt", "few_products", "excess"]),
        "whole_bags": st.booleans(),
        "products": st.lists(
            st.fixed_dictionaries(
                {"id": st.text(min_size=1, max_size=9), "grade": st.sampled_from(["21-0-0", "16-20-0", "46-0-0"])},
                optional={"bag": good_amounts, "slow_release_pct": st.floats(0, 100)},
            ),
            max_size=3,
            unique_by=lambda each: each["id"],
        ),
        "at_hand": st.lists(
            st.fixed_dictionaries({"amount": good_amounts, "material": st.sampled_from(["urea", "gypsum"])}),
            max_size=2,
        ),
    }
)


@given(wishes=good)
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_sound_wishes_of_any_size_are_never_a_fault_of_ours(client: FlaskClient, wishes: dict[str, Any]) -> None:
    status, body = posted(client, wishes)
    assert status in (200, 422), body


def test_a_garden_with_its_own_bags(client: FlaskClient) -> None:
    """The request that shows every wish: what is at hand goes first, the rest is bought by price, in whole bags."""
    document = json.loads((REQUESTS / "garden-with-own-bags.json").read_text(encoding="utf-8"))
    reply = client.post(ADDRESS, json=document)
    assert reply.status_code == 200, reply.get_data(as_text=True)
    answer = reply.get_json()
    uses = {use["material"]: use for use in answer["materials"]}
    listed = {product["id"] for product in document["options"]["materials"]["products"]}
    assert uses.keys() <= listed | {"16-20-0"}
    assert uses["16-20-0"]["amount"] == {"value": 5.0, "unit": "lb"}
    assert len(uses) <= 4
    assert {"N", "P2O5", "K2O"} <= {name for use in uses.values() for name in use["serves"]}
    assert all(use["bags"]["count"] >= 1 for name, use in uses.items() if name in listed)
