"""What the desk works with: the tables, the words, the database, the clock."""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property, lru_cache

import orjson

from service.agronomy.tables import Library
from service.catalog.catalog import Catalog
from service.render.catalogue import Catalogue
from service.render.labels import labels
from service.render.words import Words
from service.store.store import Store

SAFETY = "safety-levels"
"""The table whose newest edition judges every case: neither an old ``as_of`` nor a pin brings a former level back."""


def local_time() -> datetime:
    """The wall clock with its offset."""
    return datetime.now().astimezone()


@dataclass(frozen=True)
class Office:
    """Made once per process. ``store`` is None where nothing is kept (the command line)."""

    catalog: Catalog
    engine: str
    store: Store | None = None
    texts: Catalogue = field(default_factory=Catalogue)
    now: Callable[[], datetime] = local_time

    def __post_init__(self) -> None:
        object.__setattr__(self, "_words", lru_cache(maxsize=64)(self._make_words))
        object.__setattr__(self, "_library", lru_cache(maxsize=256)(self._find_library))

    def library(self, as_of: date, pins: Mapping[str, str] | None = None) -> Library:
        """The tables in force on a day, some pinned; looked up among all editions once and remembered."""
        found: Library = self._library(as_of, frozenset((pins or {}).items()))  # type: ignore[attr-defined]
        return found

    def safety_edition(self, today: date) -> str:
        """The edition of the safety levels in force on the day of issue."""
        return self.library(today).editions[SAFETY].edition

    def _find_library(self, as_of: date, pins: frozenset[tuple[str, str]]) -> Library:
        return self.catalog.library(as_of, dict(pins))

    def words(self, library: Library, language: str) -> Words:
        """The words of one language, with the names that stand in the library."""
        return self._words(library, language)  # type: ignore[attr-defined,no-any-return]

    def _make_words(self, library: Library, language: str) -> Words:
        return Words(language, self.texts, library.index(labels)[language])

    @cached_property
    def sources_sha256(self) -> str:
        """A fingerprint of the list of sources, which has no editions of its own."""
        listed = sorted(self.catalog.sources.values(), key=lambda source: source.id)
        return hashlib.sha256(orjson.dumps(listed)).hexdigest()

    @property
    def records(self) -> Store:
        """The database, where there is one."""
        if self.store is None:
            raise RuntimeError("this office keeps nothing")
        return self.store
