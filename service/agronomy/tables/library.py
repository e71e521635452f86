"""A crop with its pointers followed, and the `Library` of all tables in force on one day."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar, cast

from service.agronomy.errors import TableError
from service.agronomy.findings import EditionRef
from service.agronomy.tables.rates import AmountRow, Band
from service.agronomy.tables.row import Row
from service.agronomy.tables.salts import BoronToleranceRow, ChlorideToleranceRow, SaltToleranceRow

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Source:
    """One cited work. Grade C sources are never cited by the service."""

    id: str
    citation: str
    url: str | None
    grade: str


@dataclass(frozen=True, slots=True)
class CropCaution:
    """A caution that belongs to one crop."""

    code: str
    severity: str
    sources: tuple[str, ...]
    verification: str


@dataclass(frozen=True, slots=True)
class Crop:
    """One target of the library, at one edition, with its pointers already followed.

    ``depth_in`` is the sampling depth (top, bottom) in inches. ``pH_range`` is where it grows without trouble.
    ``traits`` are words the rules know: ``lime_intolerant``, ``iron_inefficient``, ``chloride_sensitive``,
    ``boron_sensitive``, ``legume``, ``edible``, ``leafy``, ``root_crop``, ``perennial``, ``woody``, ``cool_season``,
    ``warm_season``, ``forage`` ...
    ``calibrations`` is the default order of preference; the region of the site may choose another.
    ``texts``: what its own notes and cautions say, by language and code, where no catalogue of the service says it.
    """

    id: str
    edition: EditionRef
    names: Mapping[str, tuple[str, ...]]
    scientific_name: str
    kind: str
    group: str
    depth_in: tuple[float, float]
    pH_range: tuple[float, float] | None
    pH_source: Row | None
    traits: frozenset[str]
    calibrations: tuple[str, ...]
    sufficiency: tuple[Band, ...]
    amounts: tuple[AmountRow, ...]
    salt: SaltToleranceRow | None
    salt_rivals: tuple[SaltToleranceRow, ...]
    boron: BoronToleranceRow | None
    chloride: ChlorideToleranceRow | None
    cautions: tuple[CropCaution, ...]
    alternatives: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    texts: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


class Library:
    """All tables in force on one day, immutable, shared by every request of that day.

    ``index(build)`` gives each module of the core a place to keep what it has prepared from the rows:
    the builder runs once per library and its result is kept.
    """

    __slots__ = ("_indexes", "crops", "editions", "sources", "tables")

    def __init__(
        self,
        tables: Mapping[str, tuple[Row, ...]],
        editions: Mapping[str, EditionRef],
        sources: Mapping[str, Source],
        crops: Mapping[str, Crop],
    ) -> None:
        self.tables = tables
        self.editions = editions
        self.sources = sources
        self.crops = crops
        self._indexes: dict[Callable[[Library], Any], Any] = {}

    def rows(self, table: str, kind: type[T]) -> tuple[T, ...]:
        """The rows of a shared table, typed.

        Raises:
            TableError: the table was never shipped or holds rows of another kind.
        """
        found = self.tables.get(table)
        if found is None or (found and not isinstance(found[0], kind)):
            raise TableError(f"{table} does not hold rows of {kind.__name__}")
        return cast(tuple[T, ...], found)

    def index(self, build: Callable[["Library"], T]) -> T:
        """What ``build`` makes of this library, built on first use."""
        found = self._indexes.get(build)
        if found is None:
            found = self._indexes[build] = build(self)
        return found
