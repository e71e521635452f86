"""What makes two submissions the same case: how a name was typed and the order of rows do not."""

import unicodedata

import pytest
from desk_cases import LAWN, sent

from service.desk.callers import OPEN_CALLER
from service.desk.issue import issue


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("juniper-bench", "  Juniper-BENCH "),
        ("Peñasco", unicodedata.normalize("NFD", "PEÑASCO")),
    ],
)
def test_a_name_typed_otherwise_is_the_same_case(make_office, name, typed):
    """Unicode Standard 3.13: caseless matching folds case over normalized text."""
    office = make_office()
    first, again = (
        issue(OPEN_CALLER, sent({**LAWN, "sample": {**LAWN["sample"], "laboratory": each}}), office)
        for each in (name, typed)
    )
    assert (first.status, again.status, again.id) == (201, 200, first.id)


def test_rows_in_another_order_are_the_same_content(make_office):
    office = make_office()
    first = issue(OPEN_CALLER, sent(LAWN), office)
    again = issue(OPEN_CALLER, sent({**LAWN, "results": LAWN["results"][::-1]}), office)
    assert (again.status, again.id) == (200, first.id)


def test_another_figure_is_another_content(make_office):
    office = make_office()
    issue(OPEN_CALLER, sent(LAWN), office)
    results = [{**LAWN["results"][0], "value": 7.7}, *LAWN["results"][1:]]
    assert issue(OPEN_CALLER, sent({**LAWN, "results": results}), office).status == 409
