"""Every report that used something is found, no other; withdrawn, issued anew, told.

What a recall has to find and to do is that of ISO/IEC 17025:2017, 7.10 (nonconforming work: results recalled, customers
notified) and 8.7.
"""

from dataclasses import replace
from typing import Any

import orjson
import pytest
from desk_cases import LAWN, revised, sent

from service.contract.problem import ProblemError
from service.desk import links, recalls, records, reviews, statistics
from service.desk.callers import OPEN_CALLER, Caller
from service.desk.issue import issue
from service.desk.office import Office
from service.desk.recalls import Criteria

PROGRAMME = Caller("state", "programme", frozenset(("reviewer", "administrator")), "key-reader")
COUNTY = Caller("juniper-county", "county_office", frozenset(("reviewer",)), "key-own")
OTHER = COUNTY._replace(organization="cedar-county", actor="key-other")
WHY = "The EC meter was out of calibration."


def posted(office: Office, number: str, caller: Caller = OPEN_CALLER, **more: Any) -> str:
    document = {**LAWN, **more}
    document["sample"] = {**LAWN["sample"], "lab_number": number, **more.get("sample", {})}
    return str(issue(caller, sent(document), office).id)


def found(office: Office, caller: Caller = OPEN_CALLER, **criteria: Any) -> list[str]:
    made = recalls.make(caller, office, WHY, Criteria(**{"words": {}, **criteria}))
    listed = recalls.items(caller, office, made.recall.id, 0, 100)
    assert made.recall.found == len(listed)
    return [item.id for item in listed]


def ec(value: float, unit: str = "dS/m", **more: Any) -> list[dict[str, Any]]:
    others = [row for row in LAWN["results"] if row["analyte"] != "EC"]
    row = {"analyte": "EC", "method": "saturated_paste_extract", "value": value, "unit": unit, **more}
    return [*others, row]


def shown(office: Office, id: str) -> dict[str, Any]:  # noqa: A002
    return orjson.loads(records.present(records.find(OPEN_CALLER, office, id)).body)


def test_a_range_of_values_in_whatever_unit_they_came(office: Office) -> None:
    """1 dS/m = 1 mmho/cm = 1,000 uS/cm (SI)."""
    low, high = posted(office, "1", results=ec(1.1)), posted(office, "2", results=ec(1.6))
    micro = posted(office, "3", results=ec(1650, "uS/cm"))
    posted(office, "4", results=[row for row in LAWN["results"] if row["analyte"] != "EC"])
    value = {"analyte": "EC", "method": "saturated_paste_extract"}
    assert found(office, value={**value, "low": 1.5, "high": 2}) == [high, micro]
    assert found(office, value={**value, "low": 1500, "unit": "uS/cm"}) == [high, micro]
    assert found(office, value={**value, "high": 1.1}) == [low]
    assert found(office, value={"analyte": "EC"}) == [low, high, micro]
    assert found(office, value={**value, "method": "water_1_1"}) == []


def test_forms_of_one_analyte_are_the_same_in_the_end(office: Office) -> None:
    """44.27 mg/kg NO3 = 10 mg/kg NO3-N (molar masses 62.005 and 14.007, IUPAC)."""
    row = {"method": "kcl_extract", "unit": "mg/kg"}
    as_n = posted(office, "1", results=[*LAWN["results"], {**row, "analyte": "NO3-N", "value": 10}])
    as_ion = posted(office, "2", results=[*LAWN["results"], {**row, "analyte": "NO3", "value": 44.27}])
    for analyte, low, high in (("NO3-N", 9.99, 10.01), ("NO3", 44.2, 44.3)):
        assert found(office, value={"analyte": analyte, "low": low, "high": high}) == [as_n, as_ion]
    assert found(office, value={"analyte": "NO3", "low": 9.99, "high": 10.01}) == []


def test_a_censored_value_counts_where_it_may_lie_in_the_range(office: Office) -> None:
    below = posted(office, "1", results=ec(0.5, qualifier="<"))
    assert found(office, value={"analyte": "EC", "low": 0.2, "high": 0.3}) == [below]
    assert found(office, value={"analyte": "EC", "low": 0.6}) == []


def test_a_table_a_row_a_crop_a_laboratory_a_batch_and_days(office: Office) -> None:
    lawn = posted(office, "1")
    tomato = posted(office, "2", target={"crop": "vegetable-garden", "area": {"value": 200, "unit": "ft2"}})
    elsewhere = posted(office, "3", sample={"laboratory": "Cedar Bench (invented)"})
    later = posted(replace(office, now=lambda: office.now().replace(day=25)), "4")
    assert found(office, words={"crop": "vegetable-garden"}) == [tomato]
    assert found(office, table=("classes", None)) == [lawn, tomato, elsewhere, later]
    assert found(office, table=("classes", "1999-01-01")) == []
    assert found(office, laboratory="CEDAR bench (INVENTED)") == [elsewhere]
    assert found(office, lab_numbers=("1", "3")) == [lawn, elsewhere]
    assert found(office, first_day="2026-04-21", last_day="2026-04-30") == [later]
    with office.records.reading() as reading:
        row = next(word for word in sorted(reading.recalls.words("row:")) if ":P:" in word)
    by_hand = [
        id
        for id in (lawn, tomato, elsewhere, later)  # noqa: A001
        if any(row in word for word in _words(office, id))
    ]
    assert by_hand
    assert found(office, words={"row": row.removeprefix("row:")}) == by_hand


def _words(office: Office, id: str) -> list[str]:  # noqa: A002
    with office.records.reading() as reading:
        query = f"SELECT serial FROM interpretation WHERE id = '{id}'"
        return reading.usage.words_of(int(reading.connection.exec_driver_sql(query).scalar_one()))


def test_an_office_calls_back_its_own_and_the_programme_all_but_no_sandbox(office: Office) -> None:
    own, other = posted(office, "1", COUNTY), posted(office, "1", OTHER)
    posted(office, "1", COUNTY._replace(organization="juniper-county~sandbox", sandbox=True))
    everything = {"table": ("classes", None)}
    assert found(office, COUNTY, **everything) == [own]
    assert found(office, PROGRAMME, **everything) == [own, other]
    made = recalls.make(PROGRAMME, office, WHY, Criteria({}, **everything))
    for id in (made.recall.id, "no-such-recall"):  # noqa: A001
        with pytest.raises(ProblemError) as refused:
            recalls.hold(COUNTY, office, id)
        assert refused.value.problem.detail == "There is no recall of this id."


def test_withdrawn_reports_say_so_and_are_told(office: Office) -> None:
    report, untouched = posted(office, "1", results=ec(1.6)), posted(office, "2")
    _, secret = links.make(OPEN_CALLER, office, report)
    made = recalls.make(OPEN_CALLER, office, WHY, Criteria({}, value={"analyte": "EC", "low": 1.5}))
    assert "standing" not in shown(office, report), "listing withdraws nothing"
    held = recalls.hold(OPEN_CALLER, office, made.recall.id)
    assert held.counts == [("local", "released", "held", 1)]
    assert shown(office, report)["standing"]["recalled"]["reason"] == WHY
    assert "standing" not in shown(office, untouched)
    opened = links.opened(office, secret)
    assert opened is not None
    assert opened.answer is None
    with office.records.reading() as reading:
        assert [row.object_id for row in reading.trail.notices("local", 0, 9, "interpretation.recalled")] == [report]
    recalls.lift(OPEN_CALLER, office, made.recall.id)
    assert "standing" not in shown(office, report)


def test_issued_anew_each_replaces_its_own_and_the_gate_decides(office: Office) -> None:
    first = posted(office, "1", results=ec(1.6))
    overtaken = posted(office, "2", results=ec(1.6))
    issue(OPEN_CALLER, sent(revised({**LAWN, "sample": {**LAWN["sample"], "lab_number": "2"}}, 2)), office)
    held_case = posted(office, "3", COUNTY, results=ec(1.6))
    made = recalls.make(PROGRAMME, office, WHY, Criteria({}, value={"analyte": "EC", "low": 1.5}))
    recalls.hold(PROGRAMME, office, made.recall.id)
    done = recalls.reissue(PROGRAMME, office, made.recall.id)
    assert (done.reissued, done.failed, done.left) == (2, (), 0)
    again = shown(office, shown(office, first)["replaced_by"])
    assert again["replaces"] == first
    assert again["outcome"] == "held", "the programme's people reissue behind the gate of the office"
    assert shown(office, held_case)["replaced_by"] is not None
    states = {item.id: item.state for item in recalls.items(PROGRAMME, office, made.recall.id, 0, 9)}
    assert states == {first: "reissued", overtaken: "listed", held_case: "reissued"}
    record = records.find(OPEN_CALLER, office, again["id"])
    assert records.replay(record, office).how == "recomputed"
    assert len(reviews.queue(PROGRAMME, office, None, 9, "open", None)) == 2
    assert recalls.reissue(PROGRAMME, office, made.recall.id).reissued == 0
    (line, *_) = statistics.by_month(PROGRAMME, office, "2026-04-01", "2026-04-30")
    assert line.corrections == 1


def test_every_step_is_in_the_trail(office: Office) -> None:
    posted(office, "1", results=ec(1.6))
    made = recalls.make(PROGRAMME, office, WHY, Criteria({}, value={"analyte": "EC", "low": 1.5}))
    recalls.hold(PROGRAMME, office, made.recall.id)
    recalls.lift(PROGRAMME, office, made.recall.id)
    with office.records.reading() as reading:
        actions = [row.action for row in reading.trail.page("state", 0, 9)]
    assert actions == ["recall.made", "recall.held", "recall.lifted"]


def test_an_unknown_analyte_or_unit_is_refused(office: Office) -> None:
    for value, pointer in (
        ({"analyte": "Xx"}, "/value/analyte"),
        ({"analyte": "EC", "low": 1, "unit": "mg/kg"}, "/value/unit"),
    ):
        with pytest.raises(ProblemError) as refused:
            recalls.make(OPEN_CALLER, office, WHY, Criteria({}, value=value))
        assert refused.value.problem.errors[0].pointer == pointer
