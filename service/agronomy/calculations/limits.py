"""Caps and always-a-person rules for a single calculation, where nobody said what grows there or who tends it."""

from collections.abc import Iterable
from typing import NamedTuple

from service.agronomy.amendments import applications, cap_for, plan
from service.agronomy.calculations.bare import bare_case
from service.agronomy.calculations.given import Given
from service.agronomy.cap_reach import caps_anywhere, caps_of_materials
from service.agronomy.caps import SEASON, Cap, over_cap
from service.agronomy.findings import Note, Reason, Recommendation, Word
from service.agronomy.gypsum_need import dissolving_water
from service.agronomy.health import Rules
from service.agronomy.reclaiming import reclamation
from service.agronomy.submission import Quantity
from service.agronomy.units import scaled

LAWN, GYPSUM = "lawn", "gypsum"


def broken_cap(given: Given, subject: str, whole: float, dose: float) -> Reason | None:
    """The hold for a rate that no use allows, g/m2: caps as `service.agronomy.cap_reach.caps_anywhere` has them.

    Soft limits on one dose by use are told with `tell_single_dose` instead.
    """
    return _broken(given, given.library.index(caps_anywhere).get(subject, ()), whole, dose)


def broken_material_cap(given: Given, material: str, whole: float, dose: float) -> Reason | None:
    """The hold for so much of a material itself, g/m2, whatever it brings."""
    return _broken(given, given.library.index(caps_of_materials).get(material, ()), whole, dose)


def _broken(given: Given, caps: Iterable[Cap], whole: float, dose: float) -> Reason | None:
    for cap in caps:
        rate = whole if cap.row.per in SEASON else dose
        if scaled(rate) > scaled(cap.base):
            return as_asked(over_cap(given.library, cap.row.subject, cap, rate))
    return None


def as_asked(reason: Reason) -> Reason:
    """The same hold where the dose comes from the request and not from a rate table."""
    return reason._replace(code="rate_over_cap")


def tell_single_dose(given: Given, subject: str, g_m2: float) -> None:
    """Say that a rate is more than a lawn takes at once: nobody said whether it is for one."""
    cap = given.reference.cap(subject, LAWN)
    if cap is None or scaled(g_m2) <= scaled(cap.g_m2):
        return
    values = {
        "subject": Word("subject", subject),
        "maximum": Quantity(cap.row.maximum, cap.row.unit),
        "doses": plan(g_m2, cap).doses,
    }
    given.warn("calc.over_lawn_dose", **values)


class Split(NamedTuple):
    """A total as equal doses under the cap for worked ground, as the contract shows them, and one dose, g/m2."""

    applications: tuple[dict[str, object], ...]
    dose: float


def split(given: Given, subject: str, g_m2: float) -> Split:
    """Equal doses, as few as the cap for worked ground allows; of gypsum with the water that dissolves each."""
    case = bare_case(given)
    planned = plan(g_m2, cap_for(case, subject))
    between: dict[str, object] = {}
    if subject == GYPSUM:
        water = case.units.water(dissolving_water(case, planned.dose))
        solubility = given.factor("gypsum_solubility_meq_L")
        inputs = {"dose": given.rate(planned.dose), "solubility": solubility.value}
        given.step("gypsum_water", "water_to_dissolve", inputs, water.value, water.unit, solubility)
        between["water"] = water
    shown: Iterable[dict[str, object]] = (
        {"when": dose.when, "doses": planned.doses, "rate": dose.rate, "limit": dose.limit}
        for dose in applications(case, planned, subject, between)
    )
    return Split(tuple(shown), planned.dose)


def too_large(given: Given, subject: str) -> tuple[Reason, ...]:
    """The holds that the interpretation gives for gypsum on so much ground."""
    advice = Recommendation("amendment", subject, Note("calc.gypsum_conditions"))
    return tuple(reclamation(bare_case(given), (advice,), None, None))


def tell_person(given: Given) -> None:
    """Say from which area on a person plans it, since an area may not have been sent."""
    row = given.library.index(Rules.of).row("reclamation_area")
    given.warn("calc.reclamation_person", limit=Quantity(row.value or 0.0, row.unit))
