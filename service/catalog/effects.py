"""Whose answers a change of tables touches, and how: codes and values, which the languages have words for."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from service.agronomy.findings import Note, Word
from service.agronomy.submission import Quantity
from service.agronomy.tables import AmountRow, Band, ClassRow, Crop, Row
from service.catalog.compare import Changed, Difference, compare_rows
from service.catalog.segments import Segment, differing

SAID_OF_CROP = ("names", "kind", "group", "depth_in", "pH_range", "traits", "calibrations", "alternatives", "notes")
SHOWN_CROPS = 3


class Effect(NamedTuple):
    """One change of answers: the crops it touches (none named: everybody), and what changes."""

    crops: tuple[str, ...]
    what: Note

    @property
    def sentence(self) -> Note:
        """The whole as one message."""
        if not self.crops:
            return self.what
        names = tuple(Word("crop", crop) for crop in self.crops[:SHOWN_CROPS])
        more = len(self.crops) - len(names)
        who: Any = Note("change.and_more", {"crops": Note("change.crops", {"crops": names}), "count": more})
        return Note("change.for_crops", {"who": who if more else names, "what": self.what})


def crop_effects(before: Mapping[str, Crop], after: Mapping[str, Crop]) -> list[Effect]:
    """What changes for crops that exist on both sides; the same change of several crops is told once."""
    touched: dict[str, tuple[Note, list[str]]] = {}
    for name in sorted(before.keys() & after.keys()):
        for what in _of_crop(before[name], after[name]):
            crops = touched.setdefault(repr(what), (what, []))[1]
            if name not in crops:
                crops.append(name)
    return [Effect(tuple(crops), what) for what, crops in touched.values()]


def table_effects(before: Iterable[Row], after: Iterable[Row], difference: Difference) -> list[Effect]:
    """What changes for everybody, by a table that crops do not point to."""
    old, new = list(before), list(after)
    if any(isinstance(row, ClassRow) for row in (*old, *new)):
        return [Effect((), what) for what in _classes(old, new)]
    return [Effect((), what) for what in _row_changes(difference)]


def _of_crop(before: Crop, after: Crop) -> Iterator[Note]:
    if before is after:
        return
    yield from _classes(before.sufficiency, after.sufficiency)
    yield from _rates(compare_rows(before.amounts, after.amounts))
    for name in ("salt", "boron", "chloride"):
        rows = [[row] if row is not None else [] for row in (getattr(before, name), getattr(after, name))]
        yield from _tolerance(Word("tolerance", name), compare_rows(*rows))
    for name in SAID_OF_CROP:
        if getattr(before, name) != getattr(after, name):
            shown = {"before": _shown(getattr(before, name)), "after": _shown(getattr(after, name))}
            yield Note("change.column", {"column": name, **shown})


def _tolerance(tolerance: Word, difference: Difference) -> Iterator[Note]:
    for code, rows in (("change.tolerance_added", difference.added), ("change.tolerance_gone", difference.removed)):
        yield from (Note(code, {"tolerance": tolerance, "row": named(row)}) for row in rows)
    for changed in difference.changed:
        if changed.figures:
            yield from (Note("change.tolerance", {"tolerance": tolerance, "what": what}) for what in _columns(changed))


def _classes(before: Iterable[Row], after: Iterable[Row]) -> Iterator[Note]:
    """Figures that fall in another class than before, ladder by ladder."""
    old, new = _ladders(before), _ladders(after)
    for key in dict.fromkeys((*old, *new)):
        for segment in differing(old.get(key, ()), new.get(key, ())):
            yield _class_change(key, segment)


def _ladders(rows: Iterable[Row]) -> dict[tuple[str, ...], list[Band | ClassRow]]:
    found: dict[tuple[str, ...], list[Band | ClassRow]] = {}
    for row in rows:
        if isinstance(row, Band):
            found.setdefault((row.calibration, row.analyte, row.method, row.unit), []).append(row)
        elif isinstance(row, ClassRow):
            found.setdefault((row.ladder, row.unit), []).append(row)
    return found


def _class_change(key: tuple[str, ...], segment: Segment) -> Note:
    values: dict[str, Any] = {"range": _range(segment.low, segment.high, key[-1])}
    if len(key) == 2:
        values |= {"ladder": key[0], "before": segment.before or NO_CLASS, "after": segment.after or NO_CLASS}
        return Note("change.class", values)
    calibration, analyte, method, _ = key
    values |= {
        "calibration": Word("calibration", calibration),
        "analyte": Word("analyte", analyte),
        "method": Word("method", method),
        "before": Word("rating", segment.before) if segment.before else NO_CLASS,
        "after": Word("rating", segment.after) if segment.after else NO_CLASS,
    }
    return Note("change.rating", values)


NO_CLASS = Note("change.no_class")


def _range(low: float | None, high: float | None, unit: str) -> Note:
    if low is None:
        return Note("change.range_any") if high is None else Note("change.range_below", {"high": Quantity(high, unit)})
    if high is None:
        return Note("change.range_above", {"low": Quantity(low, unit)})
    if low == high:
        return Note("change.range_exactly", {"at": Quantity(low, unit)})
    return Note("change.range_between", {"low": low, "high": Quantity(high, unit)})


def _rates(difference: Difference) -> Iterator[Note]:
    for row in difference.removed:
        yield _rate_change(row, _rate(row), NO_RATE)
    for row in difference.added:
        yield _rate_change(row, NO_RATE, _rate(row))
    for before, after, columns in difference.changed:
        one, other = _rate(before), _rate(after)
        if _when(before) != _when(after):
            yield _rate_change(before, _fully(one, before), _fully(other, after), moved=True)
        elif one != other:
            yield _rate_change(before, one, other)
        elif Changed(before, after, columns).figures:
            yield from _columns(Changed(before, after, columns))


NO_RATE = Note("change.no_rate")


def _fully(rate: Note, row: Row) -> Note:
    """A rate with what it depends on, so that a moved limit shows."""
    return Note("change.rate_when", {"rate": rate, "when": _when(row)})


def _rate_change(row: Row, before: Note, after: Note, moved: bool = False) -> Note:
    assert isinstance(row, AmountRow)
    values: dict[str, Any] = {"nutrient": Word("subject", row.nutrient), "before": before, "after": after}
    values["calibration"] = Word("calibration", row.calibration)
    return Note("change.rate_moved", values) if moved else Note("change.rate", {**values, "when": _when(row)})


def _rate(row: Row) -> Note:
    assert isinstance(row, AmountRow)
    if row.equation or row.rate_low is None:
        figures = ", ".join(f"{name} {value:g}" for name, value in sorted(row.coefficients.items()))
        return Note("change.equation", {"equation": row.equation, "figures": figures})
    high = row.rate_low if row.rate_high is None else row.rate_high
    return _range(row.rate_low, high, row.rate_unit)


def _when(row: Row) -> Note:
    """What a rate depends on: class limits, stages, upkeep, uses."""
    assert isinstance(row, AmountRow)
    terms: list[Any] = []
    if row.basis_analyte and (row.lower, row.upper) != (None, None):
        limits = _range(row.lower, row.upper, row.basis_unit)
        terms.append(Note("change.test_of", {"analyte": Word("analyte", row.basis_analyte), "range": limits}))
    for kind, words in (("stage", row.stages), ("maintenance", row.maintenance), ("use", row.uses)):
        terms += [Word(kind, word) for word in words]
    terms += [row.when] if row.when else []
    return Note("change.terms", {"terms": tuple(terms)}) if terms else Note("change.always")


def _row_changes(difference: Difference) -> Iterator[Note]:
    for code, rows in (("change.row_added", difference.added), ("change.row_removed", difference.removed)):
        yield from (Note(code, {"row": named(row)}) for row in rows)
    for changed in difference.changed:
        if changed.figures:
            yield from (
                Note("change.of_row", {"row": named(changed.before), "what": what}) for what in _columns(changed)
            )


def _columns(changed: Changed) -> Iterator[Note]:
    for name in changed.columns:
        one, other = _shown(getattr(changed.before, name)), _shown(getattr(changed.after, name))
        yield Note("change.column", {"column": name, "before": one, "after": other})


def named(row: Row) -> str:
    """A row by the words that say what it is about."""
    words = (getattr(row, name) for name in type(row).__dataclass_fields__ if name not in UNNAMED)
    return " ".join(list(dict.fromkeys(word for word in words if isinstance(word, str) and word))[:4])


def figures(row: Row) -> str:
    """The numbers of a row as they stand in its cells, each with its column: what is to be found in print."""
    cells = ((name, getattr(row, name)) for name in type(row).__dataclass_fields__ if name not in UNNAMED)
    told = [f"{name} {_plain(value)}" for name, value in cells if _is_figure(name, value)]
    return ", ".join(told)


def _is_figure(name: str, value: Any) -> bool:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return number or (bool(value) and (name == "unit" or name.endswith("_unit") or name == "coefficients"))


UNNAMED = frozenset(("sources", "place", "verification", "note", "table", "line"))


def _shown(value: Any) -> Any:
    """A cell as people read it."""
    if value is None or value == "" or value == ():
        return Note("change.blank")
    if isinstance(value, bool | int | float | str):
        return value if not isinstance(value, bool) else str(value).lower()
    if isinstance(value, Mapping):
        return "; ".join(f"{name} {_plain(value[name])}" for name in sorted(value))
    return _plain(value)


def _plain(value: Any) -> str:
    if isinstance(value, tuple | list | frozenset):
        return ", ".join(str(each) for each in (sorted(value) if isinstance(value, frozenset) else value))
    return f"{value:g}" if isinstance(value, float) else str(value)
