"""The working lines of Olsen phosphorus above which nothing that carries phosphorus belongs on the ground."""

from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.units import scaled

OLSEN = "olsen"
STOP, REMOVAL_ONLY = "olsen_p_stop_compost_mg_kg", "olsen_p_crop_replacement_mg_kg"
"""Factors: Olsen P above which nothing that carries phosphorus is added, or only what the crop takes away."""


def over_olsen_line(case: Case, factor: str) -> bool:
    """Whether a trusted Olsen P is surely above a line of the factors table; False without one."""
    olsen = case.find("P", OLSEN)
    return olsen is not None and scaled(olsen.low) > scaled(reference_of(case.library).factor(factor).value)
