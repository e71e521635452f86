"""What a held answer keeps back: every word that carries an amount of something to spread, mix in or pour.

Amounts are told by their unit: a weight, a volume, a depth, or any of these per area or per tree. A content of the
soil, a conductivity or a distance of another kind is none.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from service.agronomy.findings import Note, Recommendation
from service.agronomy.submission import Quantity

SHOWN = frozenset(("practice", "do_not", "none_needed", "not_suited"))
"""Kinds of advice that are no dose of their own."""
MEASURES = frozenset(
    ("g", "kg", "lb", "oz", "t", "us_ton", "in", "cm", "mm", "m3", "yd3", "ft3", "L", "mL", "gal", "pint", "cup")
)
PER = ("ft2", "acre", "m2", "ha", "tree")
"""Ends of the units of what is given per ground or per tree."""


def is_amount(unit: str) -> bool:
    """Whether a unit is one of an amount: mass, volume, depth, or so much per area or tree."""
    return unit in MEASURES or ("/" in unit and unit.endswith(PER))


def carries_amount(value: object) -> bool:
    """Whether a message or anything in it is an amount."""
    if isinstance(value, Quantity):
        return is_amount(value.unit)
    if isinstance(value, Note):
        return carries_amount(value.values)
    if isinstance(value, Mapping):
        return any(carries_amount(each) for each in value.values())
    return isinstance(value, tuple | list) and any(carries_amount(each) for each in value)


def without_amounts(recommendations: Iterable[Recommendation]) -> tuple[Recommendation, ...]:
    """The advice that may be seen before a person has read the case, without figures to spread by or to work them out.

    What is firmly not to be done is told with its limits: nobody spreads by them. Any other word with an amount in it
    is left out.
    """
    return tuple([_plain(item) for item in recommendations if item.kind in SHOWN and _shown(item)])


def _shown(item: Recommendation) -> bool:
    return item.kind == "do_not" or item.text.code in LIMITS or not carries_amount(item.text)


LIMITS = frozenset(("rec.compost_turf", "rec.compost_test_first", "rec.manure_test_first"))
"""Practices whose only figure is a depth that must not be passed, not one to lay on."""


def _plain(item: Recommendation) -> Recommendation:
    return replace(item, rate=None, for_area=None, applications=(), because=(), base_rate=None, base_doses=())
