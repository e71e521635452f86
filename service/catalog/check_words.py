"""Whether the words of a row are ones that the core knows: a row with a misspelled one would silently never apply."""

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from service.agronomy.setting import CONDITIONS
from service.agronomy.tables import AmountRow, Band, Library, Row, ScheduleRow, WordRow
from service.catalog.errors import Fault

Closed = Mapping[str, tuple[str, ...]]
"""Column -> the words it may hold."""
LISTS: Mapping[type[Row], Mapping[str, str]] = {
    Band: {"rating": "rating"},
    AmountRow: {"stages": "stage", "maintenance": "maintenance", "uses": "use"},
    ScheduleRow: {"stages": "stage"},
}
"""Columns that hold words of a list of the table ``words``."""
CONDITIONAL: Mapping[type[Row], str] = {AmountRow: "when", ScheduleRow: "condition"}


class Spoken:
    """The words that each kind of row may use; made once per library: ``library.index(Spoken)``."""

    def __init__(self, library: Library) -> None:
        lists: dict[str, tuple[str, ...]] = {}
        for row in library.rows("words", WordRow):
            lists[row.list] = (*lists.get(row.list, ()), row.word)
        self.columns: dict[type[Row], Closed] = {
            kind: {column: lists.get(name, ()) for column, name in columns.items()} for kind, columns in LISTS.items()
        }
        for kind, column in CONDITIONAL.items():
            self.columns[kind] = {**self.columns[kind], column: tuple(CONDITIONS)}


def word_faults(place: Path, rows: Iterable[Row], spoken: Spoken) -> Iterator[Fault]:
    """Every word of these rows that stands in no list."""
    for row in rows:
        for column, allowed in spoken.columns.get(type(row), {}).items():
            held = getattr(row, column)
            for word in (held,) if isinstance(held, str) else held:
                if word and word not in allowed:
                    yield Fault(place, row.line, column, f"{word!r} is no such word", f"one of {', '.join(allowed)}")
