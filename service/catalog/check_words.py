"""Whether the words of a row are ones that the core knows: a row with a misspelled one would silently never apply."""

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from service.agronomy.materials.facts import FARM, FIGURES, HOME, WORDS
from service.agronomy.materials.rules import ACTIONS
from service.agronomy.setting import CONDITIONS
from service.agronomy.tables import (
    AmountRow,
    Band,
    Library,
    LimitRow,
    MaterialRow,
    MaterialRuleRow,
    Row,
    ScheduleRow,
    WordRow,
)
from service.catalog.errors import Fault

Closed = Mapping[str, tuple[str, ...]]
"""Column -> the words it may hold."""
LISTS: Mapping[type[Row], Mapping[str, str]] = {
    Band: {"rating": "rating"},
    AmountRow: {"stages": "stage", "maintenance": "maintenance", "uses": "use"},
    ScheduleRow: {"stages": "stage"},
    LimitRow: {"stages": "stage", "per": "per"},
}
"""Columns that hold words of a list of the table ``words``."""
CONDITIONAL: Mapping[type[Row], str] = {AmountRow: "when", ScheduleRow: "condition"}

PAVING = "paving"
"""A word of rules that nobody can send yet: it is never known to be true."""
LIMIT_WHEN = (
    *("heat", "sand", "saline", "slope", "slow_release", "foliar", "surface", "p_sufficient", "not_sodic"),
    *("with_seed", "seed_row", "well", "surface_water", "frozen", "rain", "pH_7", "pH_6_8"),
    *("compost_ec", "manure_based", "plant_based", "every_year", "topdress", "p_rich"),
    *("touches_soil", "off_soil", "buyer_rule"),
)
LIMIT_ACTIONS = (
    *("split", "refuse", "none_needed", "do_not", "leach_first", "wait", "water_in", "keep_away"),
    *("band_beside", "split_incorporate", "test_first", "ask_buyer"),
)
GROUND = ("turf", "tilled")
"""Uses of a limit that are a kind of ground."""


class Spoken:
    """The words that each kind of row may use; made once per library: ``library.index(Spoken)``."""

    def __init__(self, library: Library) -> None:
        lists: dict[str, tuple[str, ...]] = {}
        for row in library.rows("words", WordRow):
            lists[row.list] = (*lists.get(row.list, ()), row.word)
        self.columns: dict[type[Row], dict[str, tuple[str, ...]]] = {
            kind: {column: lists.get(name, ()) for column, name in columns.items()} for kind, columns in LISTS.items()
        }
        for kind, column in CONDITIONAL.items():
            self.columns[kind] = {**self.columns[kind], column: tuple(CONDITIONS)}
        uses = (*lists.get("use", ()), *GROUND, *_plants(library))
        self.columns[LimitRow] |= {"when": LIMIT_WHEN, "action": LIMIT_ACTIONS, "uses": uses}
        self.columns[MaterialRuleRow] = _of_rules(library)


def _plants(library: Library) -> tuple[str, ...]:
    """Kinds, groups and ids of plants."""
    return tuple(dict.fromkeys(name for crop in library.crops.values() for name in (crop.kind, crop.group, crop.id)))


def _of_rules(library: Library) -> dict[str, tuple[str, ...]]:
    """Words of the rules on materials: what the core can know of a case, and what the materials themselves hold."""
    rows = library.rows("materials", MaterialRow)
    properties = tuple(dict.fromkeys(word for row in rows for word in row.properties))
    when = tuple(dict.fromkeys((*WORDS, *FIGURES, HOME, FARM, PAVING)))
    other = (*properties, *(row.material for row in rows))
    return {"when": when, "action": ACTIONS, "property": properties, "other": other}


def word_faults(place: Path, rows: Iterable[Row], spoken: Spoken) -> Iterator[Fault]:
    """Every word of these rows that stands in no list."""
    for row in rows:
        for column, allowed in spoken.columns.get(type(row), {}).items():
            held = getattr(row, column)
            for word in (held,) if isinstance(held, str) else held:
                if word and word not in allowed:
                    yield Fault(place, row.line, column, f"{word!r} is no such word", f"one of {', '.join(allowed)}")
