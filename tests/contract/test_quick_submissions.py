"""The short way into a submission and marshmallow's own give the same, or the short way gives up."""

from datetime import date

import marshmallow as ma
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_submission import PLAIN, REFUSALS, TODAY, changed

from service.contract.fields import Reading, ReadingContext
from service.contract.submission import SUBMISSION
from service.contract.vocabulary import Vocabulary

quantity = st.fixed_dictionaries({"value": st.floats(-1, 50), "unit": st.sampled_from(["in", "ft", "ft2", "lb", "x"])})
depth = st.fixed_dictionaries({"top": st.integers(0, 6), "bottom": st.integers(0, 12), "unit": st.just("in")})
maybe = st.none() | st.booleans() | st.integers(-2, 2) | st.just("x") | st.just([]) | st.just({})


def members(**strategies):
    return st.fixed_dictionaries({}, optional={name: strategy | maybe for name, strategy in strategies.items()})


submissions = st.fixed_dictionaries(
    {
        "results": st.lists(
            st.sampled_from(
                [
                    {"analyte": "P", "method": "olsen", "value": 28, "unit": "mg/kg"},
                    {"analyte": "pH", "value": 7.5},
                    {"analyte": "lime", "method": "acid_fizz", "text": "strong"},
                    {"analyte": "P", "value": 28},
                ]
            ),
            max_size=3,
        ),
        "target": members(
            crop=st.sampled_from(["apple", "onion", None]),
            stage=st.just("established"),
            area=quantity,
            yield_goal=quantity,
            condition=members(irrigated=st.booleans(), age_years=st.integers(0, 9), trunk_diameter=quantity),
        ),
    },
    optional={
        "sample": members(
            laboratory=st.text(max_size=5),
            depth=depth,
            cores=st.integers(0, 20),
            taken_on=st.dates(date(2026, 1, 1), date(2026, 6, 1)).map(str),
            received_on=st.dates(date(2026, 1, 1), date(2026, 6, 1)).map(str),
            place=members(id=st.text(max_size=3)),
        ),
        "site": members(
            symptoms=st.lists(st.sampled_from(["ponding", "crusting", "x"]), max_size=3),
            surface_water=members(distance=quantity),
            amended=st.lists(members(material=st.just("gypsum"), amount=quantity), max_size=2),
            well=members(distance=quantity, infant=st.booleans()),
            irrigation_water=members(results=st.just([])),
        ),
        "options": members(language=st.sampled_from(["en", "es", "fr"]), units=st.just("metric")),
        "extra": maybe,
    },
)


def by(way, document):
    try:
        return way(document)
    except ma.ValidationError:
        return None


@settings(max_examples=500, deadline=None)
@given(document=submissions)
def test_both_ways_agree(library, document):
    with ReadingContext(Reading(library.index(Vocabulary), TODAY)):
        assert by(SUBMISSION.quick, document) == by(SUBMISSION.load, document)


@pytest.mark.parametrize(("pointer", "value", "_"), REFUSALS)
def test_the_short_way_lets_no_fault_through(library, pointer, value, _):
    with ReadingContext(Reading(library.index(Vocabulary), TODAY)), pytest.raises(ma.ValidationError):
        SUBMISSION.quick(changed(pointer, value))


def test_the_short_way_takes_an_ordinary_submission(library):
    with ReadingContext(Reading(library.index(Vocabulary), TODAY)):
        assert SUBMISSION.quick(PLAIN) == SUBMISSION.load(PLAIN)
