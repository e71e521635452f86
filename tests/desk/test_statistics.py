"""Counts by office and month against a count by hand; medians and ninetieth percentiles against numpy."""

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from statistics import median

import numpy as np
import pytest
from desk_cases import LAWN, LEAD, sent

from service.desk import reviews, statistics, voiding
from service.desk.callers import Caller
from service.desk.issue import issue
from service.desk.office import Office
from service.desk.reviews import Decision
from service.desk.statistics import harmless, quantile

COUNTY = Caller("juniper-county", "county_office", frozenset(("agent",)), "key-clerk")
OTHER = Caller("cedar-county", "county_office", frozenset(("agent",)), "key-other")
PROGRAMME = Caller("state", "programme", frozenset(("reviewer", "administrator")), "key-reader")
APRIL = ("2026-04-01", "2026-04-30")


def posted(office: Office, number: str, caller: Caller = COUNTY, received: str | None = None, **more: object) -> str:
    document = {**LAWN, "sample": {**LAWN["sample"], "lab_number": number}, **more}
    if received:
        document["sample"]["received_on"] = received
    return str(issue(caller, sent(document), office).id)


def decide(office: Office, decision: Decision) -> None:
    (review, _), *_ = reviews.queue(PROGRAMME, office, None, 50, "open", None)
    reviews.decide(PROGRAMME, office, review.id, decision)


@pytest.mark.parametrize("count", [1, 2, 3, 10, 11, 100])
def test_median_and_ninetieth_percentile_are_those_of_numpy(count: int) -> None:
    values = [random.Random(count).uniform(0, 40) for _ in range(count)]
    assert quantile(values, 0.5) == pytest.approx(median(values))
    assert quantile(values, 0.9) == pytest.approx(float(np.percentile(values, 90)))
    assert quantile([], 0.5) is None


def test_an_office_s_month(office: Office) -> None:
    received = ["2026-04-18", "2026-04-10", "2026-04-20", "2026-03-31"]
    for number, day in enumerate(received):
        posted(office, str(number), received=day)
        decide(office, Decision("approve"))
    posted(office, "held")
    posted(office, "refused", results=[{"analyte": "pH", "method": "saturated_paste", "value": 78}])
    (line,) = statistics.by_month(COUNTY, office, *APRIL)
    assert (line.organization, line.month) == ("juniper-county", "2026-04")
    assert line.outcomes == {"released": 4, "partial": 0, "held": 5, "refused": 1}
    assert (line.reports, line.corrections) == (10, 4)
    assert (line.released_unread, line.share_unread) == (0, 0.0)
    assert line.holds["class_in_shadow"] == 5
    waits = [2, 10, 0, 20]
    assert (line.waited, line.median_days) == (4, median(waits))
    assert line.p90_days == pytest.approx(float(np.percentile(waits, 90)))


def test_unread_is_what_the_rules_let_out(office: Office) -> None:
    local = Caller("local", "local", frozenset(("agent", "reviewer", "administrator")), "local")
    posted(office, "1", local)
    posted(office, "2", local)
    issue(local, sent(LEAD), office)
    decide(office, Decision("approve"))
    (line,) = statistics.by_month(local, office, *APRIL)
    given = line.outcomes["released"] + line.outcomes["partial"]
    assert (given, line.released_unread) == (3, 2)
    assert line.share_unread == pytest.approx(2 / 3)


def test_neither_the_sandbox_nor_a_void_report_counts(office: Office) -> None:
    sandbox = COUNTY._replace(organization="juniper-county~sandbox", sandbox=True)
    posted(office, "1", sandbox)
    voiding.void(COUNTY, office, posted(office, "2"), "posted twice")
    assert statistics.by_month(PROGRAMME, office, *APRIL) == []
    assert statistics.by_county(office, 2026) == []


def test_an_office_sees_its_own_and_the_programme_all(office: Office) -> None:
    posted(office, "1")
    posted(office, "1", OTHER)
    assert [line.organization for line in statistics.by_month(COUNTY, office, *APRIL, "cedar-county")] == [
        "juniper-county"
    ]
    assert [line.organization for line in statistics.by_month(PROGRAMME, office, *APRIL)] == [
        "cedar-county",
        "juniper-county",
    ]
    assert [line.organization for line in statistics.by_month(PROGRAMME, office, *APRIL, "cedar-county")] == [
        "cedar-county"
    ]
    assert statistics.by_month(PROGRAMME, office, "2026-05-01", "2026-05-31") == []


def test_months_stand_apart(office: Office) -> None:
    posted(office, "1")
    posted(replace(office, now=lambda: office.now() + timedelta(days=20)), "2")
    lines = statistics.by_month(COUNTY, office, "2026-01-01", "2026-12-31")
    assert [(line.month, line.reports) for line in lines] == [("2026-04", 1), ("2026-05", 1)]


@pytest.mark.parametrize(("clients", "shown"), [(9, None), (10, 10)])
def test_a_county_of_fewer_than_ten_clients_is_hidden(office: Office, clients: int, shown: int | None) -> None:
    """Cells under ten hidden: common practice of official statistics."""
    for number in range(clients):
        posted(office, str(number), site={"county": "Juniper (invented)"})
    (county,) = statistics.by_county(office, 2026)
    assert (county.reports, county.hidden) == (shown, shown is None)


def test_many_reports_of_one_place_are_one_client(office: Office) -> None:
    for number in range(12):
        document = {**LAWN, "site": {"county": "Juniper (invented)"}}
        document["sample"] = {**LAWN["sample"], "lab_number": str(number), "place": {"id": "back-lawn"}}
        issue(COUNTY, sent(document), office)
    (county,) = statistics.by_county(office, 2026)
    assert (county.reports, county.median_days, county.hidden) == (None, None, True)


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"])
def test_no_text_becomes_a_formula(cell: str) -> None:
    """OWASP, CSV Injection: cells that begin with = + - @, a tab or a carriage return."""
    assert harmless(cell) == f"'{cell}"
    assert harmless(-1.5) == -1.5


def test_each_reason_has_a_column(make_office: Callable[[], Office]) -> None:
    office = make_office()
    posted(office, "1")
    heads, row = statistics.table(statistics.by_month(COUNTY, office, *APRIL))
    told = dict(zip(heads, row, strict=True))
    assert (told["month"], told["held"], told["hold:class_in_shadow"], told["median_days"]) == ("2026-04", 1, 1, None)
