"""An interpretation as the JSON of the contract, straight from the dataclasses.

Sentences come from ``say``, which the caller takes from the language catalogues; codes stand beside them for programs.
Named tuples stay in the tree until `encoded` writes them.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import orjson

from service.agronomy.findings import (
    Caution,
    Check,
    EditionRef,
    Finding,
    Interpretation,
    Leaching,
    NotAssessed,
    Note,
    Reason,
    Recommendation,
    Salinity,
    Sodium,
    Step,
    Summary,
    Texture,
    Water,
    Word,
)
from service.agronomy.submission import Options, Quantity
from service.agronomy.tables import Source
from service.contract.material_answer import material, supply_note

Say = Callable[[Note], str]
DISCLAIMER = Note("provenance.disclaimer")
type_of_json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Issue:
    """What issuing adds to an interpretation; an answer that is not kept has neither id nor number."""

    issued_at: str
    engine: str
    submission_sha256: str
    id: str | None = None
    number: str | None = None
    replaces: str | None = None
    released_by: str | None = "rules"
    authorized_by: str | None = None


def document(
    found: Interpretation, options: Options, issue: Issue, sources: Mapping[str, Source], say: Say
) -> type_of_json:
    """The answer as a tree, its first five members being the ones that belong to the record and not to the soil."""
    return {
        "id": issue.id,
        "number": issue.number,
        "issued_at": issue.issued_at,
        "replaces": issue.replaces,
        "replaced_by": None,
        "outcome": found.outcome,
        "crop": found.crop,
        "language": options.language,
        "units": options.units,
        "as_of": found.as_of,
        "reasons": [reason(found_reason, say) for found_reason in found.reasons],
        "summary": _summary(found.summary, say) if found.summary else None,
        "findings": [_finding(finding, say) for finding in found.findings],
        "salinity": _salinity(found.salinity, say) if found.salinity else None,
        "sodium": _sodium(found.sodium, say) if found.sodium else None,
        "texture": _texture(found.texture, say) if found.texture else None,
        "water": _water(found.water, say) if found.water else None,
        "recommendations": [_recommendation(item, say) for item in found.recommendations],
        "materials": [material(use, say, step) for use in found.materials],
        "supply": [supply_note(note, say) for note in found.supply],
        "cautions": [_caution(caution, say) for caution in found.cautions],
        "not_assessed": [_not_assessed(item, say) for item in found.not_assessed],
        "quality_checks": [_check(check, say) for check in found.quality_checks],
        "edited": [edit._asdict() for edit in found.edited],
        "remarks": [],
        "sources": {source: _source(sources[source]) for source in found.sources if source in sources},
        "provenance": _provenance(found, issue, say),
    }


def encoded(tree: type_of_json) -> bytes:
    """The bytes that are sent and kept."""
    return orjson.dumps(tree, default=_plain)


def _plain(value: Any) -> Any:
    """Values that JSON has no form of its own for."""
    if isinstance(value, Quantity):
        return {"value": value.value, "unit": value.unit}
    if isinstance(value, Word):
        return value.word
    if isinstance(value, (tuple, set, frozenset)):
        return list(value)
    if isinstance(value, Mapping):
        return dict(value)
    raise TypeError(f"no JSON form for {type(value).__name__}")


def reason(given: Reason, say: Say) -> type_of_json:
    """One reason of an outcome."""
    return {
        "code": given.code,
        "severity": given.severity,
        "analyte": given.analyte,
        "message": say(Note(f"reason.{given.code}", given.values)),
        "ask": say(given.ask) if given.ask else None,
        "pointer": given.pointer,
    }


def _summary(summary: Summary, say: Say) -> type_of_json:
    return {
        "verdict": say(summary.verdict),
        "actions": [say(note) for note in summary.actions],
        "do_not": [say(note) for note in summary.do_not],
        "retest": summary.retest,
        "contact": say(summary.contact),
    }


def _finding(finding: Finding, say: Say) -> type_of_json:
    band, near = finding.band, finding.borderline
    return {
        "analyte": finding.analyte,
        "method": finding.method,
        "reported": _figure(finding.reported),
        "qualifier": finding.qualifier,
        "understood": _figure(finding.understood),
        "rating": finding.rating,
        "rating_in_source": finding.rating_in_source,
        "class": band._asdict() if band else None,
        "borderline": near._asdict() if near else None,
        "status": finding.status,
        "why": say(finding.why),
        "code": finding.why.code,
        "table": _table(finding.table),
        "calibration": finding.calibration,
        "sources": finding.sources,
        "verification": finding.verification,
        "rivals": [{**rival._asdict(), "table": _table(rival.table)} for rival in finding.rivals],
        "index": finding.index,
        "depth_in": finding.depth,
    }


def _figure(value: Quantity | str | None) -> Any:
    return {"value": value, "unit": None} if value.__class__ is str else value


def _table(ref: EditionRef | None) -> type_of_json | None:
    return {"id": ref.id, "edition": ref.edition} if ref else None


def _salinity(salinity: Salinity, say: Say) -> type_of_json:
    return {
        "ECe": _ece(salinity),
        "class": salinity.salinity_class,
        "relative_yield_pct": salinity.relative_yield_pct,
        "relative_yield_range": _span(salinity.relative_yield_range),
        "leaching": _leaching(salinity.leaching, say) if salinity.leaching else None,
        "alternatives": [alternative._asdict() for alternative in salinity.alternatives],
        "notes": [say(note) for note in salinity.notes],
        "because": [step(each, say) for each in salinity.steps],
        "sources": salinity.sources,
        "verification": salinity.verification,
    }


def _ece(salinity: Salinity) -> type_of_json | None:
    ece = salinity.ece
    if ece is None:
        return None
    span = {"low": ece.low, "high": ece.high} if ece.estimated else None
    return {"value": ece.value, "unit": "dS/m", "estimated": ece.estimated, "range": span, "how": ece.how}


def _span(pair: tuple[float, float] | None) -> type_of_json | None:
    return {"low": pair[0], "high": pair[1]} if pair else None


def _leaching(leaching: Leaching, say: Say) -> type_of_json:
    return {**leaching._asdict(), "conditions": [say(note) for note in leaching.conditions]}


def _sodium(sodium: Sodium, say: Say) -> type_of_json:
    return {
        "SAR": sodium.sar,
        "SAR_adjusted": sodium.sar_adjusted,
        "ESP": sodium.esp._asdict() if sodium.esp else None,
        "class": sodium.sodium_class,
        "soil_class": sodium.soil_class,
        "gypsum": _recommendation(sodium.gypsum, say) if sodium.gypsum else None,
        "notes": [say(note) for note in sodium.notes],
        "because": [step(each, say) for each in sodium.steps],
        "sources": sodium.sources,
        "verification": sodium.verification,
    }


def _texture(texture: Texture, say: Say) -> type_of_json:
    return {
        "class": texture.texture_class,
        "group": texture.group,
        "how": texture.how,
        "sand_pct": texture.sand_pct,
        "silt_pct": texture.silt_pct,
        "clay_pct": texture.clay_pct,
        "near": texture.near,
        "notes": [say(note) for note in texture.notes],
        "sources": texture.sources,
        "verification": texture.verification,
    }


def _water(water: Water, say: Say) -> type_of_json:
    return {
        "hazards": [hazard._asdict() for hazard in water.hazards],
        "SAR": water.sar,
        "SAR_adjusted": water.sar_adjusted,
        "RSC_meq_L": water.rsc_meq_L,
        "notes": [say(note) for note in water.notes],
        "because": [step(each, say) for each in water.steps],
    }


def _recommendation(item: Recommendation, say: Say) -> type_of_json:
    return {
        "kind": item.kind,
        "subject": item.subject,
        "rate": item.rate,
        "for_area": item.for_area,
        "applications": [
            {
                "when": say(dose.when),
                "rate": dose.rate,
                "limit": say(dose.limit) if dose.limit else None,
                "from": dose.from_date,
                "to": dose.to_date,
                "how": [say(note) for note in dose.how],
            }
            for dose in item.applications
        ],
        "text": say(item.text),
        "code": item.text.code,
        "because": [step(each, say) for each in item.because],
        "calibration": item.calibration,
        "table": _table(item.table),
        "sources": item.sources,
        "verification": item.verification,
    }


def step(taken: Step, say: Say) -> type_of_json:
    """One line of reasoning."""
    return {
        "step": say(Note(f"step.{taken.step}", taken.inputs)),
        "code": taken.step,
        "formula": taken.formula,
        "inputs": taken.inputs,
        "value": taken.value,
        "unit": taken.unit,
        "sources": taken.sources,
    }


def _caution(caution: Caution, say: Say) -> type_of_json:
    return {
        "code": caution.code,
        "severity": caution.severity,
        "text": say(Note(f"caution.{caution.code}", caution.values)),
        "consult": ", ".join(say(Note(f"consult.{who}")) for who in caution.consult) or None,
        "sources": caution.sources,
        "verification": caution.verification,
    }


def _not_assessed(item: NotAssessed, say: Say) -> type_of_json:
    return {"subject": item.subject, "why": say(item.why), "ask": say(item.ask), "code": item.why.code}


def _check(check: Check, say: Say) -> type_of_json:
    return {
        "check": check.check,
        "status": check.status,
        "figures": check.figures,
        "message": say(check.message),
        "code": check.message.code,
    }


def _source(source: Source) -> type_of_json:
    return {"citation": source.citation, "url": source.url}


def _provenance(found: Interpretation, issue: Issue, say: Say) -> type_of_json:
    return {
        "engine": issue.engine,
        "tables": _editions(found.editions),
        "submission_sha256": issue.submission_sha256,
        "released_by": issue.released_by if found.outcome in ("released", "partial") else None,
        "authorized_by": issue.authorized_by,
        "disclaimer": say(DISCLAIMER),
    }


def _editions(editions: Iterable[EditionRef]) -> list[type_of_json]:
    return [edition._asdict() for edition in editions]
