"""A client's own way to a report: unguessable, ending, followed to the correction, the same silence for all else."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest
from desk_cases import LAWN, LEAD, revised, sent

from service.contract.problem import ProblemError
from service.desk import links, voiding
from service.desk.callers import OPEN_CALLER, Caller
from service.desk.issue import issue
from service.desk.office import Office

COUNTY = Caller("juniper-county", "county_office", frozenset(("agent",)), "key-clerk")


@pytest.fixture
def report(office: Office) -> str:
    return str(issue(OPEN_CALLER, sent(LAWN), office).id)


def test_a_secret_has_more_than_128_random_bits(office: Office, report: str) -> None:
    """NIST SP 800-63B: 112 bits resist guessing offline; the contract asks for 128."""
    secrets = {links.make(OPEN_CALLER, office, report)[1] for _ in range(50)}
    assert len(secrets) == 50
    assert all(re.fullmatch("[0-9a-hjkmnp-tv-z]{26}", secret) for secret in secrets)
    assert len(links.SIGNS) ** links.LENGTH > 2**128


def test_it_opens_as_printed_or_mistyped_in_the_usual_ways(office: Office, report: str) -> None:
    _, secret = links.make(OPEN_CALLER, office, report)
    printed = "-".join((secret[:5], secret[5:10], secret[10:])).upper().replace("1", "I").replace("0", "O")
    for shown in (secret, printed):
        opened = links.opened(office, shown)
        assert opened is not None
        assert opened.answer is not None
        assert (opened.record.id, opened.former) == (report, None)


def test_only_a_fingerprint_is_kept(office: Office, report: str) -> None:
    _, secret = links.make(OPEN_CALLER, office, report)
    with office.records.reading() as reading:
        for table in ("report_link", "trail", "notice"):
            rows = reading.connection.exec_driver_sql(f"SELECT * FROM {table}").all()
            assert secret not in str(rows)


def test_a_correction_is_shown_in_its_place(office: Office, report: str) -> None:
    _, secret = links.make(OPEN_CALLER, office, report)
    later = issue(OPEN_CALLER, sent(revised(LAWN, 2)), office)
    last = issue(OPEN_CALLER, sent(revised(LAWN, 3)), office)
    opened = links.opened(office, secret)
    assert opened is not None
    assert (opened.record.id, opened.former) == (last.id, "2026-000001")
    assert later.id != last.id


def test_ended_ones_open_nothing(office: Office, report: str) -> None:
    link, secret = links.make(OPEN_CALLER, office, report, 30)
    at = office.now()
    assert links.opened(replace(office, now=lambda: at + timedelta(days=30, seconds=-1)), secret)
    assert links.opened(replace(office, now=lambda: at + timedelta(days=30)), secret) is None
    links.revoke(OPEN_CALLER, office, report, link.id)
    assert links.opened(office, secret) is None
    assert [known.revoked_at is not None for known in links.listed(OPEN_CALLER, office, report)] == [True]


@pytest.mark.parametrize("shown", ["", "x", "0" * 26, "0" * 10_000, "'; DROP TABLE used;--", "ñ" * 26, "٣" * 26, "%00"])
def test_hostile_tokens_open_nothing(office: Office, shown: str) -> None:
    assert links.opened(office, shown) is None


def test_a_void_report_shows_no_figures(office: Office, report: str) -> None:
    """It may be another client's."""
    _, secret = links.make(OPEN_CALLER, office, report)
    voiding.void(OPEN_CALLER, office, report, "wrong number")
    opened = links.opened(office, secret)
    assert opened is not None
    assert opened.answer is None
    with pytest.raises(ProblemError):
        links.make(OPEN_CALLER, office, report)


def test_a_held_report_shows_what_its_submitter_sees(office: Office) -> None:
    report = issue(OPEN_CALLER, sent(LEAD), office)
    _, secret = links.make(OPEN_CALLER, office, str(report.id))
    opened = links.opened(office, secret)
    assert opened is not None
    assert opened.answer is not None
    assert {item["kind"] for item in opened.answer["recommendations"]}.isdisjoint({"nutrient", "amendment", "water"})


def test_the_other_language_has_the_same_figures(office: Office, report: str) -> None:
    _, secret = links.make(OPEN_CALLER, office, report)
    english, spanish = links.opened(office, secret), links.opened(office, secret, "es")
    assert english is not None
    assert spanish is not None
    assert english.answer is not None
    assert spanish.answer is not None
    assert spanish.answer["language"] == "es"
    assert spanish.answer["summary"] != english.answer["summary"]
    assert [row["reported"] for row in spanish.answer["findings"]] == [
        row["reported"] for row in english.answer["findings"]
    ]
    assert spanish.answer["number"] == english.answer["number"]


def test_another_office_makes_and_ends_none(office: Office, report: str) -> None:
    link, _ = links.make(OPEN_CALLER, office, report)
    other = COUNTY._replace(organization="cedar-county")
    for act in (
        lambda: links.make(other, office, report),
        lambda: links.listed(other, office, report),
        lambda: links.revoke(other, office, report, link.id),
    ):
        with pytest.raises(ProblemError) as refused:
            act()
        assert refused.value.problem.status == 404
