"""Makes cases and recommendations for the tests of cautions, caps, decision and summary.

A case goes through the real door, so that units, methods and intervals are those of the service.
"""

from datetime import date
from typing import Any

from service.agronomy import door, quality, reaction, salinity, sodium, texture
from service.agronomy.findings import Application, Note, Recommendation, Salinity, Sodium
from service.agronomy.reaction import Reaction
from service.agronomy.sample import Case
from service.agronomy.submission import (
    Condition,
    Depth,
    IrrigationWater,
    Options,
    Quantity,
    Result,
    Sample,
    Site,
    Submission,
    Target,
)
from service.agronomy.tables import Library
from service.agronomy.units import Units

DAY = date(2026, 4, 20)
LAWN = "tall-fescue-lawn"
LAWN_RESULTS = (
    Result("pH", "saturated_paste", 7.8),
    Result("EC", "saturated_paste_extract", 1.1, "dS/m"),
    Result("SAR", "saturated_paste_extract", 2),
    Result("lime", "calcimeter", 4, "%"),
    Result("OM", "loss_on_ignition", 3.1, "%"),
    Result("NO3-N", "kcl_extract", 7, "mg/kg"),
    Result("P", "olsen", 31, "mg/kg"),
    Result("K", "ammonium_acetate", 340, "mg/kg"),
    Result("Zn", "dtpa", 1.8, "mg/kg"),
    Result("Fe", "dtpa", 9, "mg/kg"),
    Result("Mn", "dtpa", 5, "mg/kg"),
    Result("Cu", "dtpa", 1.5, "mg/kg"),
)
LAWN_AREA = Quantity(3200, "ft2")
LAWN_DEPTH = Depth(0, 4, "in")
ORDINARY: dict[str, Any] = {"cores": 12, "container": "plastic", "tool": "stainless_steel"}


def submission(
    *results: Result,
    crop: str | None = LAWN,
    area: Quantity | None = LAWN_AREA,
    stage: str | None = "established",
    depth: Depth | None = LAWN_DEPTH,
    water: tuple[Result, ...] = (),
    water_source: str | None = None,
    condition: dict[str, Any] | None = None,
    sample: dict[str, Any] | None = None,
    options: dict[str, Any] | None = None,
    **site: Any,
) -> Submission:
    if water or water_source:
        site["irrigation_water"] = IrrigationWater(results=water, source=water_source)
    site.setdefault("region", "US-XX")
    return Submission(
        sample=Sample(**{**ORDINARY, "depth": depth, **(sample or {})}),
        results=results or LAWN_RESULTS,
        target=Target(crop=crop, stage=stage, area=area, condition=Condition(**(condition or {}))),
        site=Site(**site),
        options=Options(as_of=DAY, **(options or {})),
    )


def case_of(library: Library, *results: Result, explain: bool = True, **more: Any) -> Case:
    understood = door.understand(submission(*results, **more), library, DAY, explain)
    checked = quality.check(understood.case)
    return understood.case.trusting(checked.voids, checked.weakened)


def judged(case: Case) -> tuple[Salinity | None, Sodium | None, Reaction]:
    """Salts, sodium and reaction of a case, as the steps before make them."""
    soil = texture.texture_of(case)
    salts = salinity.assess(case, soil)
    return salts, sodium.assess(case, salts, soil), reaction.assess(case, soil)


def dose(
    case: Case, subject: str, rate: float, unit: str = "lb/1000 ft2", kind: str = "nutrient", split: int = 1
) -> Recommendation:
    """A recommendation of so much, in equal doses."""
    units = case.library.index(Units.of)
    g_m2 = units.convert(rate, unit, "g/m2")
    return Recommendation(
        kind,
        subject,
        Note("rec.test"),
        rate=case.units.rate(g_m2),
        for_area=case.units.total(g_m2),
        applications=tuple(Application(Note("when.test"), case.units.rate(g_m2 / split)) for _ in range(split)),
        base_rate=g_m2,
        sources=("practice",),
        verification="practice",
    )


def plain(kind: str, subject: str) -> Recommendation:
    return Recommendation(kind, subject, Note(f"rec.{kind}_{subject}"), sources=("practice",), verification="practice")
