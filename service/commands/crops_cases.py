"""Worked cases: ``cases.toml`` beside a crop holds reports with the answers that print expects; here they are run.

A case goes the way of any submission: the contract reads it, the core interprets it with the tables of its day.
"""

from collections.abc import Callable, Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from service.agronomy.findings import Interpretation, Recommendation
from service.agronomy.interpret import interpret
from service.agronomy.tables import Crop, Library
from service.agronomy.units import Units, scaled
from service.catalog.catalog import Catalog
from service.catalog.errors import Fault
from service.catalog.read import read_toml
from service.contract.problem import ProblemError
from service.contract.submission import load_submission, peek_options

FILE = "cases.toml"
SUBMITTED = ("sample", "results", "target", "site", "options")
ROUNDED = 0.005
"""Rates are rounded once for people, to three figures at worst: half of the last one, relative."""


def run_cases(folder: Path, crop: str, catalog: Catalog, today: date) -> list[Fault]:
    """Every case of a crop's folder that does not come out, and a fault when it has none."""
    path, faults = folder / FILE, list[Fault]()
    cases = read_toml(path, faults).get("case", []) if path.exists() else []
    if not faults and not (isinstance(cases, list) and cases):
        return [
            Fault(path, None, "case", "no worked case", "[[case]] with figures from print and the answer they give")
        ]
    for number, case in enumerate(cases, 1):
        name = case.get("name") or f"number {number}"
        line = _line(path, f'name = "{name}"')
        faults += [Fault(path, line, key, wrong, right) for key, wrong, right in run_case(case, crop, catalog, today)]
    return faults


def run_case(case: Mapping[str, Any], crop: str, catalog: Catalog, today: date) -> Iterator[tuple[str, str, str]]:
    """What of one case does not come out: the key expected, what came, what should have come."""
    name = case.get("name", "")
    for key in case.keys() - {"name", "source", "expect", *SUBMITTED}:
        yield key, "unknown key", f"one of name, source, expect, {', '.join(SUBMITTED)}"
    if not case.get("source"):
        yield "source", f"case {name!r} names no source", "where the figures were printed"
    if case.get("target", {}).get("crop") != crop:
        yield "target.crop", repr(case.get("target", {}).get("crop")), repr(crop)
        return
    document = {key: _plain(case[key]) for key in SUBMITTED if key in case}
    as_of, pins = peek_options(document)
    if unknown := catalog.unknown_pins(pins):
        yield "options.editions", f"{unknown[0]} has no edition {pins[unknown[0]]}", "an edition of the library"
        return
    library = catalog.library(as_of or today, pins)
    document["sample"] = {"depth": _depth_of(library.crops[crop]), **document.get("sample", {})}
    try:
        answer = interpret(load_submission(document, library, as_of or today), library, as_of or today)
    except ProblemError as problem:
        for error in problem.problem.errors:
            yield error.pointer.lstrip("/").replace("/", "."), error.message, error.expected
        return
    yield from _compared(case.get("expect", {}), answer, library)


def _depth_of(crop: Crop) -> dict[str, Any]:
    """A case that states no depth was sampled as its crop asks."""
    return {"top": crop.depth_in[0], "bottom": crop.depth_in[1], "unit": "in"}


def _compared(expect: Mapping[str, Any], answer: Interpretation, library: Library) -> Iterator[tuple[str, str, str]]:
    if not expect:
        yield "expect", "the case expects nothing", "ratings, rates, none_needed ... as print gives them"
    for key, expected in expect.items():
        compare = COMPARISONS.get(key)
        if compare is None:
            yield f"expect.{key}", "unknown key", f"one of {', '.join(COMPARISONS)}"
        else:
            yield from ((f"expect.{key}", wrong, right) for wrong, right in compare(expected, answer, library))


Came = Iterator[tuple[str, str]]


def _ratings(expected: Mapping[str, str], answer: Interpretation, _: Library) -> Came:
    for analyte, rating in expected.items():
        came = {found.rating or found.status for found in answer.findings if found.analyte == analyte}
        if rating not in came:
            yield f"{analyte} came out {' and '.join(sorted(came)) or 'not at all'}", rating


def _not_rated(expected: list[str], answer: Interpretation, _: Library) -> Came:
    for analyte in expected:
        came = {found.rating for found in answer.findings if found.analyte == analyte and found.rating}
        if came:
            yield f"{analyte} came out {' and '.join(sorted(came))}", "no rating"


def _rates(expected: Mapping[str, Mapping[str, Any]], answer: Interpretation, library: Library) -> Came:
    units = library.index(Units.of)
    for subject, wanted in expected.items():
        right = f"{wanted['low']:g} to {wanted['high']:g} {wanted['unit']}"
        given = [item for item in answer.recommendations if item.subject == subject and item.rate is not None]
        if not given:
            yield f"no rate of {subject}; outcome {answer.outcome}", right
            continue
        came = [_before_rounding(units, item, wanted["unit"]) for item in given]
        low, high = scaled(wanted["low"] * (1 - ROUNDED)), scaled(wanted["high"] * (1 + ROUNDED))
        if not any(value is not None and low <= scaled(value) <= high for value in came):
            said = ", ".join(f"{item.rate.value:g} {item.rate.unit}" for item in given if item.rate)
            yield f"{subject} came out {said}", right


BASES = {"areal_rate": "g/m2", "per_tree": "g/tree"}


def _before_rounding(units: Units, item: Recommendation, to: str) -> float | None:
    """A rate in the unit of print, as reckoned, before it was rounded for the spreader."""
    rate = item.rate
    if rate is None or not units.known(to) or units.dimension(rate.unit) != units.dimension(to):
        return None
    base = BASES.get(units.dimension(rate.unit))
    if base and item.base_rate is not None:
        return units.convert(item.base_rate, base, to)
    return units.convert(rate.value, rate.unit, to)


def _kind(kind: str) -> Callable[[list[str], Interpretation, Library], Came]:
    def compare(expected: list[str], answer: Interpretation, _: Library) -> Came:
        came = {item.subject: item.kind for item in answer.recommendations}
        kinds = {(item.subject, item.kind) for item in answer.recommendations}
        for subject in expected:
            if (subject, kind) not in kinds:
                yield f"{subject} came out {came.get(subject, 'not at all')}", kind

    return compare


def _outcome(expected: str, answer: Interpretation, _: Library) -> Came:
    if answer.outcome != expected:
        yield f"outcome {answer.outcome} ({', '.join(reason.code for reason in answer.reasons)})", expected


def _cautions(expected: list[str], answer: Interpretation, _: Library) -> Came:
    came = {caution.code for caution in answer.cautions}
    for code in expected:
        if code not in came:
            yield f"no caution {code}; there are {', '.join(sorted(came)) or 'none'}", code


COMPARISONS: Mapping[str, Callable[[Any, Interpretation, Library], Came]] = {
    "ratings": _ratings,
    "not_rated": _not_rated,
    "rates": _rates,
    "none_needed": _kind("none_needed"),
    "do_not": _kind("do_not"),
    "outcome": _outcome,
    "cautions": _cautions,
}


def _plain(value: Any) -> Any:
    """TOML's dates as the contract writes them."""
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    return [_plain(each) for each in value] if isinstance(value, list) else value


def _line(path: Path, text: str) -> int | None:
    for number, line in enumerate(path.read_text("utf-8").splitlines(), 1):
        if line.strip() == text:
            return number
    return None
