"""Reading JSON strictly. What JSON allows: RFC 8259."""

import json

import pytest

from service.contract.json_body import read_json
from service.contract.problem import ProblemError


def refusal(body: bytes) -> dict:
    with pytest.raises(ProblemError) as caught:
        read_json(body)
    return caught.value.problem.document()


def test_plain_document_reads_as_the_standard_library_reads_it():
    text = '{"a": [1, 2.5, null, true, "é\\u00f1 \\ud83c\\udf3e"], "b": {"c": -0.1e-3}}'
    assert read_json(text.encode()) == json.loads(text)


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"  \n",
        b"{",
        b"{'a': 1}",
        b'{"a": 1,}',
        b"[1 2]",
        b"\xff\xfe{}",
        b'{"a": NaN}',
        b'{"a": Infinity}',
        b'{"a": -Infinity}',
        b'{"a": "\\ud800"}',
        b"[" * 100_000,
        b'{"a": ' + b"9" * 5000 + b"}",
        b'{"a": 1} {"b": 2}',
        b"\xef\xbb\xbf{}",
    ],
)
def test_malformed_bodies_are_400_with_words_of_our_own(body):
    """RFC 8259 knows no NaN, no comments, no trailing comma, one text only, UTF-8 only."""
    problem = refusal(body)
    assert problem["status"] == 400
    assert problem["type"] == "/problems/malformed-json"
    assert "Error" not in problem["detail"]
    assert "Traceback" not in problem["detail"]


def test_place_of_a_syntax_error_is_named():
    assert "line 2, column 6" in refusal(b'{"a": 1,\n"b": }')["detail"]


def test_nan_is_named():
    assert "NaN" in refusal(b'{"results": [{"value": NaN}]}')["detail"]


def test_repeated_key_is_422_with_its_pointer():
    """A laboratory value sent twice in one object must not vanish."""
    problem = refusal(b'{"results": [{"value": 1}, {"value": 2, "unit": "%", "value": 3}]}')
    assert problem["status"] == 422
    assert [(error["pointer"], error["code"]) for error in problem["errors"]] == [("/results/1/value", "repeated_key")]


def test_repeated_key_with_signs_of_a_pointer_is_escaped():
    """RFC 6901: ~ is ~0 and / is ~1."""
    assert refusal(b'{"a/b~": 1, "a/b~": 2}')["errors"][0]["pointer"] == "/a~1b~0"


@pytest.mark.parametrize(
    ("body", "told"),
    [(b'{"a": ' + b"9" * 5000 + b"}", "too many digits"), (b'{"a": "\\ud800"}', "half a surrogate pair")],
)
def test_digits_and_half_characters_are_told_apart(body, told):
    assert told in refusal(body)["detail"]
    assert ("digits" in refusal(body)["detail"]) is ("digits" in told)
