"""Figures from far outside the laboratory: every analyte by every method, nothing breaks, nothing absurd comes out."""

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.agronomy.tables import Library, MethodRow

JSON = {"content_type": "application/json"}
URL = "/v1/interpretations?store=false"
EXTREMES = (0, 5e-324, 1e-300, 1e-12, 1e-9, 1e-6, 1e9, 9.9e11, 1e12, 1e300)


def pairs(library: Library, water: bool) -> list[MethodRow]:
    rows = library.rows("methods", MethodRow)
    return [row for row in rows if (row.matrix == "water") is water and row.method != "not_stated"]


def posted(client, results, water=()):
    document = {
        "sample": {"depth": {"top": 0, "bottom": 6, "unit": "in"}},
        "results": results,
        "target": {"crop": "tomato", "area": {"value": 100, "unit": "m2"}},
        "site": {"drainage": "free", "irrigation_water": {"results": list(water)}},
    }
    return client.post(URL, data=json.dumps(document), **JSON)


def result(row: MethodRow, value: float) -> dict:
    unit = {} if row.unit in ("pH", "1") else {"unit": row.unit}
    return {"analyte": row.analyte, "method": row.method, "value": value, **unit}


def test_finer_than_any_measurement_is_refused_by_name(client):
    """1e-300 is a program's slip: 422 with the place and what would be right."""
    ec = {"analyte": "EC", "method": "saturated_paste_extract", "value": 1e-300, "unit": "dS/m"}
    answer = posted(client, [ec])
    assert answer.status_code == 422
    assert answer.json["errors"][0]["pointer"] == "/results/0/value"
    assert answer.json["errors"][0]["code"] == "out_of_range"


@pytest.mark.parametrize("value", EXTREMES)
@pytest.mark.parametrize("water", [False, True])
def test_each_alone_and_all_together(client, library, value, water):
    """Every analyte by every method at one extreme, in one report of soil or of water."""
    rows = pairs(library, water)
    some = [result(row, value) for row in rows]
    plain = [{"analyte": "pH", "method": "saturated_paste", "value": 7.5}]
    for start in range(0, len(some), 40):
        part = some[start : start + 40]
        answer = posted(client, plain, part) if water else posted(client, part)
        assert answer.status_code in (200, 422), answer.get_data(as_text=True)[:500]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_mixtures(client, library, data):
    """Handfuls of ordinary and extreme figures together, as ratios of two of them are what breaks."""
    rows = pairs(library, False)
    chosen = data.draw(st.lists(st.sampled_from(rows), min_size=2, max_size=8))
    values = st.sampled_from((*EXTREMES[4:8], 0.0)) | st.floats(1e-9, 1e4, allow_nan=False)
    answer = posted(client, [result(row, data.draw(values)) for row in chosen])
    assert answer.status_code in (200, 422), answer.get_data(as_text=True)[:500]
