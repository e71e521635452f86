"""The short way for ordinary results and the long way through the schema give the same."""

from datetime import date

import marshmallow as ma
from hypothesis import given, settings
from hypothesis import strategies as st

from service.contract.fields import Reading, ReadingContext
from service.contract.results import Results, ResultSchema, plain_result
from service.contract.vocabulary import Vocabulary

SCHEMA = ResultSchema()
FIELD = Results(ResultSchema, least=0)
words = st.sampled_from(
    ["P", "K", "pH", "EC", "olsen", "bray_p1", "mg/kg", "ppm", "dS/m", "%", "<", ">", "", "lime", "strong", "x", "1"]
)
values = st.one_of(words, st.none(), st.booleans(), st.integers(-5, 5), st.floats(), st.just([]), st.just({}))
fields = st.sampled_from(["analyte", "method", "value", "unit", "qualifier", "text", "depth", "note"])
plain = st.fixed_dictionaries(
    {
        "analyte": st.sampled_from(["P", "K", "pH"]),
        "method": st.sampled_from(["olsen", "ammonium_acetate", "saturated_paste", "not_stated"]),
        "value": st.floats(-1e6, 1e6) | st.integers(-100, 100),
        "unit": st.sampled_from(["mg/kg", "ppm", "%"]),
    },
    optional={"qualifier": st.sampled_from(["<", ">", None, "="])},
)


def by_schema(item):
    try:
        return SCHEMA.load(item)
    except ma.ValidationError as problem:
        return problem.messages


def by_field(item):
    try:
        return FIELD.read([item])[0]
    except ma.ValidationError as problem:
        return problem.messages[0]


@settings(max_examples=400, deadline=None)
@given(item=plain | st.dictionaries(fields, values, max_size=7) | values)
def test_short_way_agrees_with_the_schema(library, item):
    """Once a combination is known, a result that takes the short way is the one the schema would have made."""
    with ReadingContext(Reading(library.index(Vocabulary), date(2026, 4, 20))):
        expected = by_schema(item)
        assert repr(by_field(item)) == repr(expected)
        short = plain_result(item, False, library.index(Vocabulary).accepted)
        assert short is None or short == expected


def test_short_way_is_taken(library):
    """The second time round an ordinary result never reaches the schema."""
    item = {"analyte": "P", "method": "olsen", "value": 28, "unit": "mg/kg"}
    with ReadingContext(Reading(library.index(Vocabulary), date(2026, 4, 20))):
        FIELD.read([item])
        assert plain_result(item, False, library.index(Vocabulary).accepted) == SCHEMA.load(item)
