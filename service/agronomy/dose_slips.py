"""Which slip a dose above its cap looks like: the factor between what was reckoned and what may have been meant.

The dose is named and held, never corrected: a slip is a question to whoever sent or entered the figure.
"""

from collections.abc import Iterable, Iterator, Sequence
from math import log

from service.agronomy.findings import Note
from service.agronomy.reference import reference_of
from service.agronomy.submission import Quantity
from service.agronomy.tables import AmountRow, Library
from service.agronomy.units import (
    ATOMIC_MASS,
    GRAMS_PER_LB,
    SQUARE_METRES_PER_1000_FT2,
    SQUARE_METRES_PER_ACRE,
    Units,
    significant,
)

KG_HA = 0.1
"""One kg/ha in g/m2."""
PHOSPHATE = (2 * ATOMIC_MASS["P"] + 5 * ATOMIC_MASS["O"]) / (2 * ATOMIC_MASS["P"])
POTASH = (2 * ATOMIC_MASS["K"] + ATOMIC_MASS["O"]) / (2 * ATOMIC_MASS["K"])
FACTORS: tuple[tuple[str, float, frozenset[str]], ...] = (
    ("per_acre", SQUARE_METRES_PER_ACRE / SQUARE_METRES_PER_1000_FT2, frozenset()),
    ("per_1000", 10.0, frozenset()),
    ("phosphate", PHOSPHATE, frozenset(("P2O5",))),
    ("potash", POTASH, frozenset(("K2O",))),
    ("kg_ha", GRAMS_PER_LB / SQUARE_METRES_PER_ACRE / KG_HA, frozenset()),
)
"""Slip, factor, the subjects it can happen to (blank: all). 43.56, 10, 2.29, 1.20 and 1.12: exact or atomic masses."""
PRINTED = 1.005
"""Doses are judged as printed, with three figures: half of the last one may be rounding."""
SHARE = "ordinary_dose_share_of_cap"


def likely_slips(
    library: Library, subject: str, g_m2: float, cap_g_m2: float, unit: str, amounts: Iterable[AmountRow] = ()
) -> tuple[Note, ...]:
    """The slips that explain a dose above its cap: those where dose / factor is an ordinary dose, the likeliest first.

    Args:
        g_m2, cap_g_m2: the dose and the cap it breaks. unit: the cap's own, in which the explanation is told.
        amounts: rates printed for the plant; without any for this nutrient, a dose from a share of the cap
            (factor ``ordinary_dose_share_of_cap``) up to the cap counts as ordinary.

    The likeliest leads nearest to the middle of the ordinary doses.
    """
    low, high = _ordinary(library, subject, cap_g_m2, amounts)
    middle = (low * high) ** 0.5
    found = [
        (abs(log(g_m2 / factor / middle)), slip, g_m2 / factor)
        for slip, factor, subjects in FACTORS
        if (not subjects or subject in subjects) and low / PRINTED <= g_m2 / factor <= high * PRINTED
    ]
    convert = library.index(Units.of).convert
    shown = [(slip, Quantity(significant(convert(meant, "g/m2", unit)), unit)) for _, slip, meant in sorted(found)]
    return tuple(Note(f"slip.{slip}", {"dose": dose}) for slip, dose in shown)


def in_a_row(slips: Sequence[Note]) -> Note | str:
    """The sentences of several slips as one: each text ends with the placeholder ``more``."""
    last: Note | str = ""
    for note in reversed(slips):
        last = Note(note.code, {**note.values, "more": last})
    return last


def _ordinary(library: Library, subject: str, cap_g_m2: float, amounts: Iterable[AmountRow]) -> tuple[float, float]:
    printed = list(_printed(library, subject, amounts))
    low, high = min(printed, default=0.0), min(max(printed, default=0.0), cap_g_m2)
    if not 0 < low <= high:
        return cap_g_m2 * reference_of(library).factor(SHARE).value, cap_g_m2
    return low, high


def _printed(library: Library, subject: str, amounts: Iterable[AmountRow]) -> Iterator[float]:
    """Every rate above zero that is printed for a nutrient, g/m2; not those per unit of yield or per tree."""
    units = library.index(Units.of)
    for row in amounts:
        if row.nutrient != subject or row.equation or row.yield_unit or not units.known(row.rate_unit):
            continue
        if units.dimension(row.rate_unit) == "areal_rate":
            rates = (row.rate_low, row.rate_high)
            yield from (units.areal(Quantity(rate, row.rate_unit)) for rate in rates if rate)
