"""Editions that kept interpretations rest on must stay: without them nobody could prove what was said."""

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import orjson

from service.catalog.catalog import Catalog
from service.catalog.errors import CatalogError, Fault
from service.store.store import Store


class Lost(NamedTuple):
    """An edition of a table or crop that is gone."""

    id: str
    edition: str


def hold_editions(catalog: Catalog, store: Store) -> None:
    """Refuse to go on without an edition that a kept interpretation used. Raises CatalogError."""
    faults = [
        Fault(Path(name), None, None, f"edition {edition} is gone, but kept interpretations rest on it", REMEDY)
        for name, edition in sorted(set(lost_editions(catalog, store)))
    ]
    if faults:
        raise CatalogError(faults)


REMEDY = "the folder or package that brought it back in place; a newer edition may stand beside it"


def lost_editions(catalog: Catalog, store: Store) -> Iterator[Lost]:
    """Editions that are gone although a kept interpretation was for that crop or names that table.

    What merely lay beside it unused (a crop of another folder, tables for another region) may go.
    """
    for crop, laid_out in store.laid_out():
        for name, edition in orjson.loads(laid_out)["editions"].items():
            if edition in catalog.editions_of(name):
                continue
            named = b'"id":"%s","edition":"%s"' % (name.encode(), edition.encode())
            if name == crop or any(named in answer for answer in store.answers_on(laid_out)):
                yield Lost(name, edition)
