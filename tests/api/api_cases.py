"""Submissions and shapes that the tests of the interface share."""

from copy import deepcopy
from typing import Any

URL = "/v1/interpretations"
LAWN: dict[str, Any] = {
    "sample": {
        "laboratory": "juniper-bench-demo-laboratory",
        "lab_number": "26-01187",
        "depth": {"top": 0, "bottom": 4, "unit": "in"},
    },
    "results": [
        {"analyte": "pH", "method": "saturated_paste", "value": 7.8},
        {"analyte": "EC", "method": "saturated_paste_extract", "value": 1.1, "unit": "dS/m"},
        {"analyte": "lime", "method": "calcimeter", "value": 4, "unit": "%"},
        {"analyte": "P", "method": "olsen", "value": 31, "unit": "mg/kg"},
    ],
    "target": {"crop": "tall-fescue-lawn", "stage": "established", "area": {"value": 3200, "unit": "ft2"}},
    "options": {"units": "us_garden", "language": "en"},
}


def with_results(*results: dict[str, Any]) -> dict[str, Any]:
    """The lawn without a laboratory number and with other results."""
    return {**deepcopy(LAWN), "sample": {"depth": LAWN["sample"]["depth"]}, "results": list(results)}


def strict(node: Any) -> Any:
    """A JSON schema in which no object may have a member that is not declared."""
    if isinstance(node, list):
        return [strict(each) for each in node]
    if not isinstance(node, dict):
        return node
    made = {key: strict(value) for key, value in node.items()}
    if isinstance(made.get("properties"), dict):
        made["additionalProperties"] = False
    return made
