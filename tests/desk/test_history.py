"""Results of one place over the years: what is comparable, and what is more than noise.

The limit is the reproducibility limit of ISO 5725-6:1994, 4.1.4: 1.96 sqrt(2) s = 2.77 s for two results of one method.
The standard deviations are read from the table of methods, not from the code.
"""

import csv
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from desk_cases import LAWN, revised, sent

from service.contract.problem import ProblemError
from service.desk import voiding
from service.desk.callers import OPEN_CALLER, Caller
from service.desk.history import Line, history
from service.desk.issue import issue
from service.desk.office import Office

METHODS = Path(__file__).resolve().parents[2] / "crops" / "_shared" / "methods" / "2025-01-01.csv"


def sd(analyte: str, method: str) -> tuple[str, float]:
    with METHODS.open(encoding="utf-8") as file:
        row = next(row for row in csv.DictReader(file) if (row["analyte"], row["method"]) == (analyte, method))
    return row["uncertainty_kind"], float(row["uncertainty"])


def posted(office: Office, year: int, caller: Caller = OPEN_CALLER, **more: Any) -> str:
    results = [
        {"analyte": "pH", "method": "saturated_paste", "value": more.pop("pH", 7.8)},
        {"analyte": "K", "method": "ammonium_acetate", "value": more.pop("K", 340), "unit": "mg/kg"},
    ]
    sample = {"depth": LAWN["sample"]["depth"], "place": {"id": "back-lawn"}, "taken_on": f"{year}-04-01"}
    document = {**LAWN, "results": results, "sample": {**sample, **more.pop("sample", {})}, **more}
    return str(issue(caller, sent(document), office).id)


def lines(office: Office, id: str, caller: Caller = OPEN_CALLER) -> dict[str, Line]:  # noqa: A002
    return {line.analyte: line for line in history(caller, office, id)}


@pytest.mark.parametrize(("factor", "verdict"), [(0.98, "noise"), (1.02, "rise"), (-0.98, "noise"), (-1.02, "fall")])
def test_a_change_within_the_reproducibility_limit_is_noise(office: Office, factor: float, verdict: str) -> None:
    kind, deviation = sd("pH", "saturated_paste")
    assert kind == "absolute"
    limit = 2.77 * deviation
    posted(office, 2024, pH=7.5)
    line = lines(office, posted(office, 2026, pH=7.5 + factor * limit))["pH"]
    assert (line.verdict, line.change) == (verdict, pytest.approx(factor * limit))
    assert line.noise == pytest.approx(limit, rel=2e-3)


def test_relative_noise_grows_with_the_value(office: Office) -> None:
    kind, deviation = sd("K", "ammonium_acetate")
    assert kind == "relative"
    posted(office, 2024, K=300)
    line = lines(office, posted(office, 2026, K=340))["K"]
    by_hand = 1.96 * ((deviation * 300) ** 2 + (deviation * 340) ** 2) ** 0.5
    assert line.noise == pytest.approx(by_hand)
    assert line.verdict == ("noise" if by_hand >= 40 else "rise")


def test_points_come_oldest_first_whatever_order_they_were_posted_in(office: Office) -> None:
    for year in (2024, 2022, 2023):
        posted(office, year, pH=year / 1000 + 5)
    last = posted(office, 2025)
    posted(office, 2026)
    line = lines(office, last)["pH"]
    assert [point.day[:4] for point in line.points] == ["2022", "2023", "2024", "2025"]
    assert line.change == pytest.approx(7.8 - 7.024)


@pytest.mark.parametrize(
    "other",
    [
        {"sample": {"depth": {"top": 0, "bottom": 8, "unit": "in"}}},
        {"sample": {"place": {"id": "front-lawn"}}},
        {"results": [{"analyte": "pH", "method": "water_1_1", "value": 7.4}]},
        {"sample": {"depth": {"top": 4, "bottom": 8, "unit": "in"}}},
    ],
    ids=["deeper", "another place", "another method", "another layer"],
)
def test_what_is_not_comparable_is_not_compared(office: Office, other: dict[str, Any]) -> None:
    posted(office, 2024, **other)
    assert "pH" not in lines(office, posted(office, 2026))


def test_the_same_depth_in_another_unit_is_the_same(office: Office) -> None:
    """4 in = 10.16 cm."""
    posted(office, 2024, sample={"depth": {"top": 0, "bottom": 10, "unit": "cm"}})
    assert lines(office, posted(office, 2026))["pH"].verdict == "noise"


def test_a_censored_value_has_no_change(office: Office) -> None:
    row = {"analyte": "Zn", "method": "dtpa", "unit": "mg/kg"}
    posted(office, 2024, results=[{**row, "value": 0.2, "qualifier": "<"}])
    line = lines(office, posted(office, 2026, results=[{**row, "value": 1.2}]))["Zn"]
    assert (line.change, line.noise, line.verdict) == (None, None, "unknown")
    assert (line.points[0].value, line.points[0].qualifier) == (None, "<")


def test_what_season_moves_is_marked(office: Office) -> None:
    row = {"analyte": "EC", "method": "saturated_paste_extract", "unit": "dS/m"}
    posted(office, 2024, results=[{**row, "value": 1.1}])
    line = lines(office, posted(office, 2026, results=[{**row, "value": 2.4}]))["EC"]
    assert (line.verdict, line.seasonal) == ("rise", True)


def test_a_method_whose_scatter_nobody_knows_gives_no_verdict(office: Office) -> None:
    """A gap of the table stays a gap."""
    row = {"analyte": "NO3-N", "method": "kcl_extract", "unit": "mg/kg"}
    posted(office, 2024, results=[{**row, "value": 5}])
    line = lines(office, posted(office, 2026, results=[{**row, "value": 25}]))["NO3-N"]
    assert (line.change, line.noise, line.verdict) == (20, None, "unknown")


def test_neither_void_nor_replaced_nor_foreign_reports_are_compared(office: Office) -> None:
    county = Caller("juniper-county", "county_office", frozenset(("agent",)), "key")
    posted(office, 2020, county)
    voiding.void(OPEN_CALLER, office, posted(office, 2021), "wrong bag")
    named = {"laboratory": "bench", "lab_number": "7"}
    posted(office, 2022, sample=named, pH=6)
    posted(office, 2022, sample={**named, "revision": 2}, pH=7)
    line = lines(office, posted(office, 2026))["pH"]
    assert [point.value for point in line.points] == [7, 7.8]
    assert lines(office, posted(office, 2026, county), county)["pH"].points[0].day == "2020-04-01"


def test_nothing_of_a_report_without_a_place_and_nothing_for_others(office: Office) -> None:
    report = str(issue(OPEN_CALLER, sent(revised(LAWN, 1)), office).id)
    assert history(OPEN_CALLER, office, report) == []
    with pytest.raises(ProblemError) as refused:
        history(Caller("cedar-county", "county_office", frozenset(("agent",)), "key"), office, report)
    assert refused.value.problem.status == 404


def test_it_is_read_again_each_time(office: Office) -> None:
    """A stored report never changes; its history does."""
    first = posted(office, 2024)
    assert history(OPEN_CALLER, office, first) == []
    posted(replace(office, now=lambda: office.now()), 2023)
    assert lines(office, first)["pH"].verdict == "noise"
