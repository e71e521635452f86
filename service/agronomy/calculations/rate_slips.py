"""A nutrient's rate above its cap that would be ordinary as the weight of the product itself.

The slips of areas and of oxide forms are told with the cap; this one hangs on the product that was asked about.
"""

from service.agronomy.calculations.given import Given, rounded
from service.agronomy.caps import arithmetic
from service.agronomy.dose_slips import SHARE
from service.agronomy.findings import Word
from service.agronomy.units import scaled


def tell_slip(given: Given, nutrient: str, rate: float, share: float, cap: float) -> None:
    """Tell that the weight of the product may have been given for that of the nutrient, with what that would bring.

    Args:
        nutrient: as labelled. rate: its rate, g/m2, above the cap. share: percent of it in the product.
        cap: g/m2; ordinary is from the table's share of it up to it.
    """
    brings = rate * share / 100
    if scaled(cap * given.factor(SHARE).value) <= scaled(brings) <= scaled(cap):
        factor = rounded(100 / share)
        given.warn(
            "calc.slip.product", factor=factor, subject=Word("subject", nutrient), **arithmetic(given.library, brings)
        )
