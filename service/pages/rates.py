"""Rate rows in words: what a nutrient is given by, when, and how much."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from service.agronomy.formulas import RATE_EQUATIONS
from service.agronomy.submission import Quantity
from service.agronomy.tables import AmountRow
from service.pages.ladders import Warrant, range_text, said, warrant
from service.render.words import Words


class Rate(NamedTuple):
    """One rate. ``equation`` is the place of its equation in the matrix of the agronomy."""

    publisher: str
    when: tuple[str, ...]
    rate: str
    equation: str
    figures: str
    warrant: Warrant


class Nutrient(NamedTuple):
    """All rates of one nutrient, those of the preferred publishers first."""

    name: str
    rates: tuple[Rate, ...]


def nutrients(rows: Iterable[AmountRow], order: Sequence[str], words: Words) -> tuple[Nutrient, ...]:
    """The rates of a crop by nutrient; rows that differ only in the test's method are one."""
    rank = {name: place for place, name in enumerate(order)}
    found: dict[str, dict[object, tuple[AmountRow, tuple[str, ...]]]] = {}
    for row in sorted(rows, key=lambda row: rank.get(row.calibration, len(rank))):
        alike = found.setdefault(row.nutrient, {})
        _, methods = alike.get(_content(row), (row, ()))
        alike[_content(row)] = (row, (*methods, row.basis_method) if row.basis_method else methods)
    return tuple(
        Nutrient(words.word("subject", name), tuple(_rate(row, methods, words) for row, methods in alike.values()))
        for name, alike in found.items()
    )


def _content(row: AmountRow) -> object:
    test = (row.basis_analyte, row.basis_unit, row.lower, row.upper, row.lower_inclusive, row.upper_inclusive)
    fits = (row.calibration, row.stages, row.maintenance, row.uses, row.when, row.placement, row.yield_unit)
    amount = (row.rate_low, row.rate_high, row.rate_unit, row.per, row.equation, tuple(row.coefficients.items()))
    return test, fits, amount, warrant(row)


def _rate(row: AmountRow, methods: tuple[str, ...], words: Words) -> Rate:
    function = RATE_EQUATIONS.get(row.equation)
    return Rate(
        said(words, "calibration", row.calibration),
        tuple(_when(row, methods, words)),
        amount(row, words),
        f"{function.__module__.removeprefix('service.agronomy.')}.{function.__qualname__}" if function else "",
        ", ".join(f"{name} = {value:g}" for name, value in row.coefficients.items()),
        warrant(row),
    )


def _when(row: AmountRow, methods: tuple[str, ...], words: Words) -> Iterable[str]:
    """What must hold for a rate: class of the test, stage, upkeep, use, condition."""
    if row.basis_analyte and (row.lower, row.upper) != (None, None):
        limits = range_text(words, row.lower, row.upper, row.lower_inclusive, row.upper_inclusive)
        values = {
            "analyte": words.word("analyte", row.basis_analyte),
            "methods": words.listing(tuple(words.word("method", method) for method in methods)),
            "range": limits,
            "unit": words.unit(row.basis_unit),
        }
        yield words.text("page.library.rate.test" if methods else "page.library.rate.test_only", values)
    for kind, listed in (("stage", row.stages), ("maintenance", row.maintenance), ("use", row.uses)):
        if listed:
            yield words.text("page.library.rate.or", {"words": ", ".join(said(words, kind, word) for word in listed)})
    for code in (f"page.library.condition.{row.when}", f"page.library.placement.{row.placement}"):
        if not code.endswith("."):
            yield words.text(code) if words.has(code) else code.rpartition(".")[2].replace("_", " ")


def amount(row: AmountRow, words: Words) -> str:
    """The rate itself: a figure, a range, none, or the name of the equation."""
    if row.equation:
        code = "page.library.rate.equation_per" if row.yield_unit else "page.library.rate.equation"
        return words.text(code, {"unit": words.unit(row.rate_unit), "yield": words.unit(row.yield_unit)})
    low, high = row.rate_low, row.rate_high
    if low is None and high is None:
        return words.text("page.library.rate.none_given")
    top = low if high is None else high
    if not low and not top:
        return words.text("page.library.rate.none_needed")
    per = f"page.library.per.{row.per}"
    shown = words.quantity(Quantity(top or 0.0, row.rate_unit))
    if low is not None and low != top:
        shown = words.text("page.library.rate.from_to", {"low": low, "high": shown})
    return f"{shown}, {words.text(per)}" if words.has(per) else shown
