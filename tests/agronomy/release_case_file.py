"""Reads release_cases.toml: for each release rule three submissions, inside its limit, on it and outside."""

import shlex
import tomllib
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any, NamedTuple

import orjson

FILE = Path(__file__).with_name("release_cases.toml")
PLACES = ("inside", "on", "outside")


class Case(NamedTuple):
    """One submission, and whether the rule gives its reason for it."""

    code: str
    place: str
    document: dict[str, Any]
    fires: bool
    source: str


def cases() -> Iterator[Case]:
    """Every case of the file."""
    told = tomllib.loads(FILE.read_text("utf-8"))
    for code, rule in told["rule"].items():
        if "proven_by" in rule:
            continue
        fires = {"inside": True, "on": rule["on_limit"], "outside": False}
        for place in PLACES:
            document = deepcopy(told["base"])
            for change in (*rule.get("all", ()), *rule[place]):
                _apply(document, change)
            yield Case(code, place, document, fires[place], rule["source"])


def proven() -> dict[str, list[str]]:
    """Rules that have tests of their own: code, and the tests as file::function."""
    told = tomllib.loads(FILE.read_text("utf-8"))
    return {code: rule["proven_by"] for code, rule in told["rule"].items() if "proven_by" in rule}


def _apply(document: dict[str, Any], change: str) -> None:
    """One change: ``a.b = JSON`` sets a member, ``Zn dtpa < 0.1 mg/kg`` a result, ``- Zn`` takes one away."""
    path, equals, value = change.partition(" = ")
    if equals:
        *parents, last = path.split(".")
        node = document
        for parent in parents:
            node = node.setdefault(parent, {})
        node[last] = orjson.loads(value)
        return
    words = shlex.split(change)
    if words[0] == "-all":
        document["results"] = []
    elif words[0] == "-":
        document["results"] = [each for each in document["results"] if each["analyte"] != words[1]]
    else:
        document["results"].append(_result(words))


def _result(words: list[str]) -> dict[str, Any]:
    analyte, method, *rest = words
    made: dict[str, Any] = {"analyte": analyte, "method": method}
    if rest[0] in ("<", ">"):
        made["qualifier"] = rest.pop(0)
    try:
        made["value"] = float(rest[0])
    except ValueError:
        made["text"] = rest[0]
    if len(rest) > 1:
        made["unit"] = rest[1]
    return made
