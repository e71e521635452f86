"""Problem documents. Members and media type: RFC 9457; status codes: RFC 9110."""

from http import HTTPStatus

import orjson
import pytest

from service.contract.problem import KINDS, SHOWN_ERRORS, FieldError, Problem, escaped, invalid


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_the_members_of_the_standard(kind):
    document = orjson.loads(Problem(kind, "What happened.").encoded())
    assert set(document) == {"type", "title", "status", "detail"}
    assert document["type"] == f"/problems/{kind}"
    assert document["status"] in set(HTTPStatus)
    assert document["status"] >= 400


def test_kinds_are_told_apart_by_their_titles():
    assert len({kind.title for kind in KINDS.values()}) == len(KINDS)


def test_errors_and_further_members_stand_beside():
    error = FieldError("/a", "code", "wrong", "right", ("x",))
    document = Problem("conflict", "d", (error,), {"interpretation": "i"}).document()
    assert document["interpretation"] == "i"
    assert document["errors"] == [
        {"pointer": "/a", "code": "code", "message": "wrong", "expected": "right", "allowed": ("x",)}
    ]


def test_a_flood_of_errors_is_cut():
    problem = invalid(FieldError(f"/{n}", "c", "m", "e") for n in range(1000)).problem
    assert len(problem.document()["errors"]) == SHOWN_ERRORS
    assert "999 more" in problem.detail


@pytest.mark.parametrize(("key", "segment"), [("a/b", "a~1b"), ("~", "~0"), ("~1", "~01"), ("x" * 300, "x" * 100)])
def test_pointer_segments_are_escaped(key, segment):
    """RFC 6901, section 3."""
    assert escaped(key) == segment


def test_half_a_surrogate_in_a_key_cannot_break_the_document():
    assert orjson.dumps(escaped("\ud800"))
