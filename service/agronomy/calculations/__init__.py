"""The single calculations of the contract, each with its steps: the same functions that the interpretation uses.

A calculation declares its inputs as data, so that the request schema, the documentation and the checks come from one
place. It obeys the same caps and always-a-person rules: what may not leave unread comes as ``withheld``.
"""

from collections.abc import Mapping

from service.agronomy.calculations.amendments import GYPSUM, LIME, SULFUR
from service.agronomy.calculations.blend import BLEND
from service.agronomy.calculations.declaration import Answer, Calculation, Input, calculate
from service.agronomy.calculations.given import WrongInput
from service.agronomy.calculations.nutrients import NITRATE_CREDIT, TURF_NITROGEN_SCHEDULE, WATER_NITRATE_CREDIT
from service.agronomy.calculations.products import PRODUCT_AMOUNT
from service.agronomy.calculations.salts import (
    ECE_ESTIMATE,
    LEACHING_REQUIREMENT,
    RECLAMATION_LEACHING,
    RELATIVE_YIELD,
)
from service.agronomy.calculations.soil import CORES_NEEDED, HYDROMETER, TEXTURE
from service.agronomy.calculations.solutions import ESP, ION_BALANCE, SAR
from service.agronomy.calculations.units import CONVERT

_ALL = (
    CONVERT,
    TEXTURE,
    HYDROMETER,
    SAR,
    ESP,
    ECE_ESTIMATE,
    RELATIVE_YIELD,
    LEACHING_REQUIREMENT,
    RECLAMATION_LEACHING,
    GYPSUM,
    SULFUR,
    LIME,
    NITRATE_CREDIT,
    WATER_NITRATE_CREDIT,
    PRODUCT_AMOUNT,
    BLEND,
    TURF_NITROGEN_SCHEDULE,
    CORES_NEEDED,
    ION_BALANCE,
)
CALCULATIONS: Mapping[str, Calculation] = {calculation.name: calculation for calculation in _ALL}
"""By name, in the order of the contract."""

__all__ = ["CALCULATIONS", "Answer", "Calculation", "Input", "WrongInput", "calculate"]
