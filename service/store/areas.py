"""The areas of the database, each a class of its own over one connection: ``book.trail``, ``reading.usage``.

A new area is a module ``service/store/<area>.py`` with a class that takes a connection, and one line in `Areas`.
"""

from typing import Any, Generic, TypeVar, overload

import sqlalchemy as sa

from service.store.classes import Classes
from service.store.keys import Keys
from service.store.links import Links
from service.store.privacy import Privacy
from service.store.recalls import Recalls
from service.store.reviews import Reviews
from service.store.samples import Samples
from service.store.statistics import Statistics
from service.store.trail import Trail
from service.store.usage import Usage
from service.store.voids import Voids

Kind = TypeVar("Kind")


class Area(Generic[Kind]):
    """Makes an area on first use and keeps it for the transaction."""

    def __init__(self, make: type[Kind]) -> None:
        self.make: Any = make

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name

    @overload
    def __get__(self, owner: None, kind: type) -> "Area[Kind]": ...
    @overload
    def __get__(self, owner: "Areas", kind: type) -> Kind: ...
    def __get__(self, owner: "Areas | None", kind: type) -> "Area[Kind] | Kind":
        """The area on the owner's connection; found in the owner itself from then on."""
        if owner is None:
            return self
        made: Kind = self.make(owner.connection)
        owner.__dict__[self.name] = made
        return made


class Areas:
    """One transaction: its connection, and every area on it."""

    classes = Area(Classes)
    keys = Area(Keys)
    links = Area(Links)
    privacy = Area(Privacy)
    recalls = Area(Recalls)
    reviews = Area(Reviews)
    samples = Area(Samples)
    statistics = Area(Statistics)
    trail = Area(Trail)
    usage = Area(Usage)
    voids = Area(Voids)

    def __init__(self, connection: sa.Connection) -> None:
        self.connection = connection
