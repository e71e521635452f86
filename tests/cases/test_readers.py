"""Submissions as a field agronomist, a turf manager and a gardener with salty soil would send them.

They were written, with the outcome each of them would sign, before any answer was seen. Beside the outcome every
answer is held to what those readers complained of wherever it happened: contradictions, words missing, amounts shown
in a held report. People, places and laboratories are invented.
"""

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent
CASES = list(csv.DictReader((HERE / "readers.csv").read_text("utf-8").splitlines()))
KEPT_BACK = ("nutrient", "amendment", "water")
named = pytest.mark.parametrize("case", CASES, ids=[f"{case['reader']}-{case['case']}" for case in CASES])


def answered(post: Callable[..., Any], case: dict[str, str]) -> dict[str, Any]:
    document = json.loads((HERE / "readers" / case["reader"] / f"{case['case']}.json").read_bytes())
    reply = post(document)
    assert reply.status_code == 200, reply.get_data(as_text=True)
    answer: dict[str, Any] = reply.get_json()
    return answer


def sentences(node: Any) -> list[str]:
    if isinstance(node, dict):
        return [text for value in node.values() for text in sentences(value)]
    if isinstance(node, list):
        return [text for value in node for text in sentences(value)]
    return [node] if isinstance(node, str) else []


@named
def test_the_outcome_is_one_the_reader_would_sign(post: Callable[..., Any], case: dict[str, str]) -> None:
    """The gravest rule wins, and it is the one that a reader of this trade expected."""
    answer = answered(post, case)
    assert answer["outcome"] in case["outcomes"].split("|"), [reason["code"] for reason in answer["reasons"]]


@named
def test_nothing_is_said_and_unsaid(post: Callable[..., Any], case: dict[str, str]) -> None:
    """No subject is both needed and not needed; no action stands twice; every sentence has its words."""
    answer = answered(post, case)
    dosed = {item["subject"] for item in answer["recommendations"] if item["rate"]}
    spared = {item["subject"] for item in answer["recommendations"] if item["kind"] == "none_needed"}
    assert dosed & spared == set()
    actions = answer["summary"]["actions"]
    assert len(actions) == len(set(actions))
    assert 1 <= len(actions) <= 5
    assert [text for text in sentences(answer) if text.startswith("[") and text.endswith("]")] == []


@named
def test_what_a_person_must_see_first_is_kept_back(post: Callable[..., Any], case: dict[str, str]) -> None:
    """A held or refused report shows no amount of fertilizer, amendment or leaching water."""
    answer = answered(post, case)
    if answer["outcome"] in ("held", "refused"):
        assert [item["subject"] for item in answer["recommendations"] if item["kind"] in KEPT_BACK] == []
        assert answer["materials"] == []
        assert not (answer["salinity"] or {}).get("leaching")
        assert not (answer["sodium"] or {}).get("gypsum")


@named
def test_every_rating_and_amount_names_its_table_and_source(post: Callable[..., Any], case: dict[str, str]) -> None:
    """Nothing is rated or dosed without table, edition, source and mark."""
    answer = answered(post, case)
    rated = [item for item in answer["findings"] if item["status"] == "rated"]
    dosed = [item for item in answer["recommendations"] if item["rate"]]
    for item in (*rated, *dosed):
        assert item["sources"], item
        assert item["verification"], item
        assert set(item["sources"]) <= set(answer["sources"]), item
    assert all(item["table"]["edition"] for item in rated)
