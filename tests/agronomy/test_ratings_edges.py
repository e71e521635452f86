"""Every class limit of every shipped rating table: at it, just below it and just above it.

What is expected is worked out from the printed bounds with decimals, apart from the code that looks classes up.
"""

from collections.abc import Iterator
from decimal import Decimal
from itertools import groupby

import pytest
from making import case_of

from service.agronomy.calibration import GAP, ladder
from service.agronomy.ratings import rate
from service.agronomy.submission import Depth, Result
from service.agronomy.tables import Band, Library, MethodRow

STEP = Decimal("0.000001")
"""The precision at which values are compared."""


def tables(library: Library) -> Iterator[tuple[str, list[Band]]]:
    """The rows of one calibration, group, analyte and method, table by table."""

    def key(row: Band) -> tuple[str, str, str, str]:
        return (row.calibration, row.group, row.analyte, row.method)

    for name in sorted(library.tables):
        rows = library.tables[name]
        if rows and isinstance(rows[0], Band):
            for which, group in groupby(sorted(library.rows(name, Band), key=key), key=key):
                yield " ".join((name, *which)), list(group)


def inside(row: Band, value: Decimal) -> bool:
    """Whether the printed bounds of a class hold a value."""
    if row.lower is not None:
        lower = Decimal(str(row.lower))
        if value < lower or (value == lower and not row.lower_inclusive):
            return False
    if row.upper is not None:
        upper = Decimal(str(row.upper))
        if value > upper or (value == upper and not row.upper_inclusive):
            return False
    return True


def test_every_limit_of_every_table(library: Library) -> None:
    """Sources: the publisher's bounds as they stand in each row."""
    checked = 0
    for name, rows in tables(library):
        prepared = ladder(rows)
        limits = {Decimal(str(x)) for row in rows for x in (row.lower, row.upper) if x is not None}
        for limit in sorted(limits):
            for value in (limit - STEP, limit, limit + STEP):
                expected = [row.rating for row in rows if inside(row, value)]
                assert len(expected) <= 1, f"{name}: two classes hold {value}"
                at = prepared.place(float(value))
                found = [] if at == GAP else [prepared.rungs[at].rating]
                assert found == expected, f"{name} at {value}"
                checked += 1
    assert checked > 500


def test_classes_of_a_table_never_overlap_or_fall(library: Library) -> None:
    """From low to high a ladder's words never go down (salts and excess have no ladder here)."""
    order = ("very_low", "low", "medium", "sufficient", "high", "very_high", "excessive", "toxic")
    for name, rows in tables(library):
        ranks = [order.index(rung.rating) for rung in ladder(rows).rungs]
        assert ranks == sorted(ranks), name


@pytest.mark.parametrize(
    ("value", "rating"),
    [(7.999999, "low"), (8, "medium"), (18.999999, "medium"), (19, "high")],
)
def test_a_limit_holds_through_the_whole_path(library: Library, value: float, rating: str) -> None:
    """Minnesota lawns, Olsen P (umn-turf-bu1731): 0-7 low, 8-18 medium, above 18 high."""
    findings = rate(case_of(library, Result("P", "olsen", value, "mg/kg"))).findings
    assert [finding.rating for finding in findings] == [rating]


def test_a_limit_in_another_unit_is_the_same_limit(library: Library) -> None:
    """8 mg/kg is 0.0008 %; float noise at the limit must not move the class."""
    for figure, unit in ((8, "mg/kg"), (8, "ppm"), (0.0008, "%"), (8000, "ug/kg")):
        (finding,) = rate(case_of(library, Result("P", "olsen", figure, unit), depth=Depth(0, 10, "cm"))).findings
        assert finding.rating == "medium", unit


def test_bounds_stand_in_the_unit_results_are_understood_in(library: Library) -> None:
    """A class limit in another unit than the method's canonical one would be compared with the wrong figure."""
    canonical = {(row.analyte, row.method): row.unit for row in library.rows("methods", MethodRow)}
    wrong = [
        (name, row.analyte, row.method, row.unit)
        for name, rows in tables(library)
        for row in rows
        if canonical.get((row.analyte, row.method), row.unit) != row.unit
    ]
    assert wrong == []
