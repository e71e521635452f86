"""Every release rule on made-up cases inside its limit, on it and outside, as autoverification tests its rules.

The cases are data: release_cases.toml, each rule with its source. What happens on the limit is written there.
"""

from collections import Counter
from pathlib import Path

import orjson
import pytest
from making import DAY
from release_case_file import Case, cases, proven

from service.agronomy.interpret import interpret
from service.agronomy.tables import Library, ReleaseRuleRow
from service.contract.json_body import read_json
from service.contract.submission import load_submission

CASES = tuple(cases())
PROVEN = proven()


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.code}-{case.place}")
def test_a_rule_speaks_inside_its_limit_and_is_silent_outside(library: Library, case: Case) -> None:
    submission = load_submission(read_json(orjson.dumps(case.document)), library, DAY)
    found = interpret(submission, library, DAY)
    assert (case.code in {reason.code for reason in found.reasons}) is case.fires


@pytest.mark.parametrize(("code", "tests"), list(PROVEN.items()), ids=list(PROVEN))
def test_a_rule_with_tests_of_its_own_names_tests_that_are_there(code: str, tests: list[str]) -> None:
    for test in tests:
        file, _, name = test.partition("::")
        assert f"def {name}(" in Path(__file__).with_name(file).read_text("utf-8"), code


def test_every_rule_has_its_three_cases(library: Library) -> None:
    counted = Counter(case.code for case in CASES)
    wanted = {row.code for row in library.rows("release-rules", ReleaseRuleRow)}
    assert {code for code in wanted if counted[code] < 3} == PROVEN.keys()
    assert counted.keys() | PROVEN.keys() == wanted


def test_every_rule_has_an_owner_and_something_to_do_in_both_languages(library: Library) -> None:
    rows = library.rows("release-rules", ReleaseRuleRow)
    assert [row.code for row in rows if not (row.owner_en and row.owner_es and row.to_do_en and row.to_do_es)] == []
