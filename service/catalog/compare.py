"""What differs between two editions, row by row."""

from collections.abc import Iterable
from dataclasses import fields
from typing import Any, NamedTuple

from service.agronomy.tables import Row
from service.catalog.read import BOOKKEEPING

WARRANT = ("sources", "place", "verification", "note")
"""Columns that say how far a figure may be trusted; a change of them changes no figure."""


class Changed(NamedTuple):
    """A row in both editions, with the columns that differ."""

    before: Row
    after: Row
    columns: tuple[str, ...]

    @property
    def figures(self) -> bool:
        """Whether more changed than sources, marks and notes."""
        return not set(self.columns) <= set(WARRANT)


class Difference(NamedTuple):
    """Everything that differs between two lists of rows of one kind."""

    added: tuple[Row, ...]
    removed: tuple[Row, ...]
    changed: tuple[Changed, ...]


def compare_rows(before: Iterable[Row], after: Iterable[Row]) -> Difference:
    """Rows that came, went and changed. Of rows that differ, those most alike are the same row, changed."""
    old, new = list(before), list(after)
    _drop_equal(old, new)
    changed = []
    for row in list(old):
        likeness, twin = max(
            ((_likeness(row, other), other) for other in new), key=lambda pair: pair[0], default=(0, row)
        )
        if likeness * 2 >= len(_figures(type(row))):
            old.remove(row)
            new.remove(twin)
            changed.append(Changed(row, twin, _differing(row, twin)))
    return Difference(tuple(new), tuple(old), tuple(changed))


def _drop_equal(old: list[Row], new: list[Row]) -> None:
    """Take out what stands in both, as often as it does."""
    there: dict[str, list[Row]] = {}
    for row in new:
        there.setdefault(_content(row), []).append(row)
    for row in list(old):
        twins = there.get(_content(row))
        if twins:
            new.remove(twins.pop(0))
            old.remove(row)


def _content(row: Row) -> str:
    return repr([getattr(row, name) for name in (*WARRANT, *_figures(type(row)))])


def _figures(kind: type[Row]) -> tuple[str, ...]:
    return tuple(item.name for item in fields(kind) if item.name not in (*BOOKKEEPING, *WARRANT))


def _likeness(one: Row, other: Row) -> int:
    """How many columns agree; 0 for rows about different things, which the first column says."""
    names = _figures(type(one))
    if _value(one, names[0]) != _value(other, names[0]):
        return 0
    return sum(_value(one, name) == _value(other, name) for name in names)


def _differing(one: Row, other: Row) -> tuple[str, ...]:
    names = (*_figures(type(one)), *WARRANT)
    return tuple(name for name in names if _value(one, name) != _value(other, name))


def _value(row: Row, name: str) -> Any:
    return getattr(row, name)
