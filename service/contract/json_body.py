"""Bytes to JSON, strictly: one document, UTF-8, no key twice, no NaN."""

import json
from collections.abc import Iterator
from typing import Any

import orjson

from service.contract.problem import FieldError, Problem, ProblemError, escaped, invalid


class _RepeatedKeyError(Exception):
    """A key that stands twice in one object."""


class _Pairs(list[tuple[str, Any]]):
    """An object with every key it was sent with."""


class _NotANumberError(Exception):
    """NaN or Infinity where JSON has no such number."""


def read_json(body: bytes) -> Any:
    """The document in ``body``.

    Raises:
        ProblemError: malformed JSON (400), or a key given twice, of which one would silently win (422).
    """
    if not body.strip():
        raise _malformed("the body is empty")
    try:
        text = body.decode("utf-8")
        document = _DECODER.decode(text)
        if "\\u" in text:
            _refuse_halves(body)
    except UnicodeDecodeError as problem:
        raise _malformed(f"the body is not UTF-8 (byte {problem.start})") from None
    except json.JSONDecodeError as problem:
        raise _malformed(f"line {problem.lineno}, column {problem.colno}: {problem.msg.lower()}") from None
    except _NotANumberError as problem:
        raise _malformed(f"{problem} is not a JSON number; leave the result out, or send null") from None
    except _RepeatedKeyError:
        raise invalid(_repeated(json.loads(text, object_pairs_hook=_Pairs), "")) from None
    except RecursionError:
        raise _malformed("the document is nested too deeply") from None
    except ValueError:
        raise _malformed("a number has too many digits; no measurement needs more than 17") from None
    return document


def _refuse_halves(body: bytes) -> None:
    """Half a surrogate pair is no character; the standard library lets it pass, orjson does not."""
    try:
        orjson.loads(body)
    except orjson.JSONDecodeError as problem:
        where = f"line {problem.lineno}, column {problem.colno}"
        raise _malformed(f"{where}: an escape is half a surrogate pair, which is no character") from None


def _repeated(node: Any, path: str) -> Iterator[FieldError]:
    """Every key that stands twice in its object, wherever it stands."""
    if isinstance(node, _Pairs):
        seen: set[str] = set()
        for key, value in node:
            pointer = f"{path}/{escaped(key)}"
            if key in seen:
                yield FieldError(
                    pointer, "repeated_key", f"the key {key[:60]!r} stands twice in one object", "each key once"
                )
            seen.add(key)
            yield from _repeated(value, pointer)
    elif isinstance(node, list):
        for index, value in enumerate(node):
            yield from _repeated(value, f"{path}/{index}")


def _malformed(detail: str) -> ProblemError:
    return ProblemError(Problem("malformed-json", f"Not a JSON document: {detail}."))


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise _RepeatedKeyError
    return found


def _constant(name: str) -> Any:
    raise _NotANumberError(name)


_DECODER = json.JSONDecoder(object_pairs_hook=_unique, parse_constant=_constant)
