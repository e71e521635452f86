"""Submissions of the invented county that the tests of the desk share."""

from copy import deepcopy

import orjson

LAWN = {
    "sample": {
        "laboratory": "juniper-bench-demo-laboratory",
        "lab_number": "26-01187",
        "depth": {"top": 0, "bottom": 4, "unit": "in"},
    },
    "results": [
        {"analyte": "pH", "method": "saturated_paste", "value": 7.8},
        {"analyte": "EC", "method": "saturated_paste_extract", "value": 1.1, "unit": "dS/m"},
        {"analyte": "SAR", "method": "saturated_paste_extract", "value": 2},
        {"analyte": "lime", "method": "calcimeter", "value": 4, "unit": "%"},
        {"analyte": "P", "method": "olsen", "value": 31, "unit": "mg/kg"},
        {"analyte": "K", "method": "ammonium_acetate", "value": 340, "unit": "mg/kg"},
    ],
    "target": {"crop": "tall-fescue-lawn", "stage": "established", "area": {"value": 3200, "unit": "ft2"}},
    "options": {"units": "us_garden", "language": "en"},
}
LEAD = {
    **LAWN,
    "results": [*LAWN["results"], {"analyte": "Pb", "method": "total_digest", "value": 260, "unit": "mg/kg"}],
    "target": {"crop": "vegetable-garden", "area": {"value": 200, "unit": "ft2"}},
}
IMPOSSIBLE = {**LAWN, "results": [{"analyte": "pH", "method": "saturated_paste", "value": 78}]}


def sent(document: object) -> bytes:
    """A submission as a front end sends it."""
    return orjson.dumps(document)


def revised(document: dict, revision: int, **target: object) -> dict:
    """The same sample, corrected by its laboratory, or for another target."""
    changed = deepcopy(document)
    changed["sample"]["revision"] = revision
    changed["target"].update(target)
    return changed
