"""Crops found, as a page lists them: by kind, under the names that its reader uses."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from service.agronomy.tables import Crop
from service.contract.vocabulary import fold


class Hit(NamedTuple):
    """A crop found. ``name`` and ``others`` are in the page's language, ``foreign`` in the rest."""

    crop: Crop
    name: str
    others: tuple[str, ...]
    foreign: tuple[str, ...]


def by_kind(crops: Iterable[Crop], language: str) -> Mapping[str, tuple[Hit, ...]]:
    """Crops by kind, each kind in the order of the names."""
    found: dict[str, list[Hit]] = {}
    for crop in crops:
        found.setdefault(crop.kind, []).append(hit(crop, language))
    return {kind: tuple(sorted(found[kind], key=lambda each: fold(each.name))) for kind in sorted(found)}


def hit(crop: Crop, language: str) -> Hit:
    """A crop with its names in the order that a reader of this language wants them."""
    own = crop.names.get(language) or (crop.id,)
    foreign = (name for other, names in crop.names.items() if other != language for name in names)
    return Hit(crop, own[0], tuple(own[1:]), tuple(name for name in foreign if name not in own))
