"""Gathers, once each, the table editions and the sources behind an interpretation."""

from collections.abc import Iterable

from service.agronomy.findings import (
    Caution,
    EditionRef,
    Finding,
    MaterialUse,
    Recommendation,
    Salinity,
    Sodium,
    Step,
    SupplyNote,
    Texture,
    Water,
)
from service.agronomy.sample import Case
from service.agronomy.tables import Library

CHOSEN_BY_CROP = ("ratings-", "amounts-")


def editions(
    case: Case, findings: Iterable[Finding], recommendations: Iterable[Recommendation]
) -> tuple[EditionRef, ...]:
    """The editions that the figures came from: the crop, the tables that rated or dosed, and the shared rules."""
    used = set(case.library.index(_shared_rules))
    used.update(finding.table for finding in findings if finding.table)
    used.update(item.table for item in recommendations if item.table)
    if case.crop:
        used.add(case.crop.edition)
    return tuple(sorted(used))


def _shared_rules(library: Library) -> frozenset[EditionRef]:
    """Shared tables that every interpretation rests on, whichever crop it is for."""
    return frozenset(ref for name, ref in library.editions.items() if not name.startswith(CHOSEN_BY_CROP))


def sources(
    findings: Iterable[Finding],
    parts: Iterable[Salinity | Sodium | Texture | None],
    irrigation: Water | None,
    recommendations: Iterable[Recommendation],
    cautions: Iterable[Caution],
    materials: Iterable[MaterialUse | SupplyNote] = (),
) -> tuple[str, ...]:
    """Every source id cited anywhere in the answer."""
    used: set[str] = set()
    for finding in findings:
        used.update(finding.sources)
        for rival in finding.rivals:
            used.update(rival.sources)
    for item in recommendations:
        used.update(item.sources)
        _cite_steps(used, item.because)
    for material in materials:
        used.update(material.sources)
        _cite_steps(used, material.because if isinstance(material, MaterialUse) else ())
    for caution in cautions:
        used.update(caution.sources)
    for part in parts:
        if part is not None:
            used.update(part.sources)
            _cite_steps(used, () if isinstance(part, Texture) else part.steps)
    if irrigation is not None:
        _cite_steps(used, irrigation.steps)
        for hazard in irrigation.hazards:
            used.update(hazard.sources)
    return tuple(sorted(used))


def _cite_steps(used: set[str], steps: Iterable[Step]) -> None:
    for step in steps:
        used.update(step.sources)
