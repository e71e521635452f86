"""Forgetting a person, ending what is over, keeping what the law wants: results and trail stay valid throughout.

GDPR articles 17 (erasure, with its exception for legal claims) and 20 (export) as an outside yardstick.
"""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import orjson
import pytest
from desk_cases import LAWN, LEAD, revised, sent

from service.contract.problem import ProblemError
from service.desk import links, privacy, records, retention, samples
from service.desk.callers import Caller
from service.desk.issue import issue
from service.desk.office import Office
from service.desk.trail_check import prove_database

COUNTY = Caller("juniper-county", "county_office", frozenset(("agent", "administrator")), "key-clerk")
OTHER = COUNTY._replace(organization="cedar-county", actor="key-other")
ANA = {"name": "Ana Invented", "contact": "ana@juniper.example", "language": "es"}
DECADE = timedelta(days=3653)


def taken(office: Office, **more: Any) -> str:
    return str(samples.take(COUNTY, office, sent({"use": "lawn", "client": ANA, "consent": True, **more})).id)


def joined(office: Office, sample: str) -> str:
    label = samples.find(COUNTY, office, sample).sample.label
    return str(issue(COUNTY, sent({**LAWN, "sample": {**LAWN["sample"], "label": label}}), office).id)


def proof(office: Office) -> list[Any]:
    with office.records.reading() as reading:
        return list(prove_database(reading).broken)


def everything(office: Office) -> str:
    """All rows of all tables as text."""
    with office.records.reading() as reading:
        sets = [
            reading.connection.exec_driver_sql(f"SELECT * FROM {name}").all()
            for name in ("identity", "sample", "interpretation", "trail", "notice", "review", "report_link")
        ]
    return str(sets)


def later(office: Office, span: timedelta) -> Office:
    at = office.now() + span
    return replace(office, now=lambda: at)


def test_a_person_is_forgotten_and_the_rest_stays_valid(office: Office) -> None:
    sample = taken(office)
    report = joined(office, sample)
    before = records.present(records.find(COUNTY, office, report))
    assert "Ana Invented" in everything(office)
    privacy.erase(COUNTY, office, sample)
    assert "Ana" not in everything(office)
    assert "ana@juniper.example" not in everything(office)
    assert records.present(records.find(COUNTY, office, report)) == before
    assert proof(office) == []
    privacy.erase(COUNTY, office, sample)
    with office.records.reading() as reading:
        actions = [row.action for row in reading.trail.page(COUNTY.organization, 0, 50)]
    assert actions.count("sample.client_erased") == 1


def test_names_stand_in_one_table_only(office: Office) -> None:
    joined(office, taken(office))
    assert everything(office).count("Ana Invented") == 1


def test_a_records_request_gets_everything_and_is_noted(office: Office) -> None:
    sample = taken(office)
    report = joined(office, sample)
    found = privacy.export(COUNTY, office, sample)
    assert found["client"] == ANA
    assert [one["id"] for one in found["reports"]] == [report]
    assert {row["action"] for row in found["trail"]} >= {"sample.taken", "interpretation.issued"}
    heads, *rows = privacy.table(found)
    potassium = next(dict(zip(heads, row, strict=True)) for row in rows if row[3] == "K")
    assert (potassium["value"], potassium["unit"], potassium["method"]) == (340, "mg/kg", "ammonium_acetate")
    with office.records.reading() as reading:
        assert reading.trail.of("sample", sample)[-1].action == "sample.exported"


def test_a_legal_hold_comes_first(office: Office) -> None:
    sample = taken(office)
    hold = privacy.place(COUNTY, office, "sample", sample, "a claim in court")
    with pytest.raises(ProblemError) as refused:
        privacy.erase(COUNTY, office, sample)
    assert refused.value.problem.status == 409
    assert privacy.lift(COUNTY, office, hold.id).lifted_at is not None
    privacy.erase(COUNTY, office, sample)
    assert "Ana" not in everything(office)


def test_another_office_neither_erases_nor_exports_nor_holds(office: Office) -> None:
    sample = taken(office)
    hold = privacy.place(COUNTY, office, "sample", sample, "a claim")
    for act in (
        lambda: privacy.erase(OTHER, office, sample),
        lambda: privacy.export(OTHER, office, sample),
        lambda: privacy.place(OTHER, office, "sample", sample, "a claim"),
        lambda: privacy.place(OTHER, office, "organization", COUNTY.organization, "a claim"),
        lambda: privacy.lift(OTHER, office, hold.id),
    ):
        with pytest.raises(ProblemError) as refused:
            act()
        assert refused.value.problem.status == 404
    assert privacy.holds(OTHER, office) == []


def test_what_is_over_goes_with_all_that_hangs_on_it(office: Office) -> None:
    first = str(issue(COUNTY, sent(LAWN), office).id)
    second = str(issue(COUNTY, sent(revised(LAWN, 2)), office).id)
    links.make(COUNTY, office, second)
    issue(COUNTY, sent({**LEAD, "sample": {"laboratory": "bench", "lab_number": "9"}}), office)
    then = later(office, DECADE + timedelta(days=1))
    young = str(issue(COUNTY, sent({**LAWN, "sample": {"laboratory": "bench", "lab_number": "10"}}), then).id)
    assert retention.run(then, apply=False).interpretations == 3
    assert records.find(COUNTY, then, first).id == first, "counting deletes nothing"
    assert retention.run(then, apply=True).interpretations == 3
    for gone in (first, second):
        with pytest.raises(ProblemError):
            records.find(COUNTY, then, gone)
    assert records.find(COUNTY, then, young).id == young
    assert retention.run(then, apply=True).interpretations == 0
    assert proof(then) == [], "the trail says what went and still proves itself"
    with then.records.reading() as reading:
        left = reading.connection.exec_driver_sql("SELECT count(*) FROM used").scalar_one()
        mine = reading.connection.exec_driver_sql("SELECT count(DISTINCT interpretation) FROM used").scalar_one()
    assert (left > 0, mine) == (True, 1)


def test_a_case_whose_newest_report_is_young_stays_whole(office: Office) -> None:
    first = str(issue(COUNTY, sent(LAWN), office).id)
    then = later(office, DECADE + timedelta(days=1))
    issue(COUNTY, sent(revised(LAWN, 2)), then)
    assert retention.run(then, apply=True).interpretations == 0
    assert records.find(COUNTY, then, first).id == first


@pytest.mark.parametrize("kind", ["interpretation", "sample", "organization"])
def test_a_hold_keeps_what_is_over(office: Office, kind: str) -> None:
    sample = taken(office)
    report = joined(office, sample)
    named = {"interpretation": report, "sample": sample, "organization": COUNTY.organization}[kind]
    hold = privacy.place(COUNTY, office, kind, named, "a claim in court")
    then = later(office, DECADE + timedelta(days=1))
    assert retention.run(then, apply=True).interpretations == 0
    assert records.find(COUNTY, then, report).id == report
    privacy.lift(COUNTY, then, hold.id)
    assert retention.run(then, apply=True).interpretations == 1


def test_a_name_goes_earlier_than_the_results(office: Office) -> None:
    """Common practice: three years after the sample's last change."""
    report = joined(office, taken(office))
    assert retention.run(later(office, timedelta(days=1090)), apply=True).clients == 0
    then = later(office, timedelta(days=1100))
    assert retention.run(then, apply=True).clients == 1
    assert "Ana" not in everything(office)
    assert orjson.loads(records.find(COUNTY, then, report).answer)["findings"]
