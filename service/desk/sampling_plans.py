"""How to sample for a use: depth, cores, area, amount, kit and cautions, from tables, in the reader's language."""

from dataclasses import asdict
from math import ceil
from typing import Any, NamedTuple

from service.agronomy.sampling import cores_needed
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, SamplingRow, WordRow
from service.agronomy.units import Units
from service.contract.problem import FieldError, invalid
from service.desk.office import Office
from service.render.words import Words

TABLE, ADVICE = "sampling-plans", "sampling-advice"
ERROR_PCT, CONFIDENCE_PCT = 25.0, 95.0
"""What is wanted of the mean where nobody says otherwise: common practice."""
ACRE = "acre"
LISTS = {"kit": "kit", "steps": "step", "dry": "dry", "avoid": "avoid", "season": "season"}


class Wish(NamedTuple):
    """For what is to be sampled. ``cv``, ``error`` and ``confidence`` are percent; an area comes with its unit."""

    use: str
    language: str = "en"
    area: float | None = None
    unit: str | None = None
    cv: float | None = None
    error: float = ERROR_PCT
    confidence: float = CONFIDENCE_PCT


def plan(office: Office, wish: Wish) -> dict[str, Any]:
    """The plan of one use. Raises ProblemError 422 for an area without its unit, or in a unit that is none of area."""
    library = office.library(office.now().date())
    return plan_of(library, office.words(library, wish.language), wish)


def plan_of(library: Library, words: Words, wish: Wish) -> dict[str, Any]:
    """The same by tables and words."""
    rows = [row for row in library.rows(TABLE, SamplingRow) if row.use == wish.use]
    main = next(row for row in rows if row.main)
    advice = {name: _advice(library, kind, wish) for name, kind in LISTS.items()}
    cited = {name for row in rows for name in row.sources} & library.sources.keys()
    return {
        "use": wish.use,
        "name": words.word("sampling_use", wish.use),
        "language": wish.language,
        "edition": library.editions[TABLE].edition,
        "plan": _guide(main),
        "other_guides": [_guide(row) for row in rows if row is not main],
        "cores": _cores(main, wish),
        "samples": _samples(library, main, wish),
        **advice,
        "sources": {name: asdict(library.sources[name]) for name in sorted(cited)},
    }


def _guide(row: SamplingRow) -> dict[str, Any]:
    def mark(figure: str) -> dict[str, str]:
        return {"verification": row.verification if figure in row.read_in_print else "practice"}

    area, cups = row.area_max_acres, row.amount_cups
    return {
        "purpose": row.purpose,
        "depth": {"from": row.depth_from_in, "to": row.depth_to_in, "unit": "in", **mark("depth")},
        "cores": {"low": row.cores_low, "high": row.cores_high, **mark("cores")},
        "largest_area": None if area is None else {"value": area, "unit": ACRE, **mark("area")},
        "amount": None if cups is None else {"value": cups, "unit": "cup", **mark("amount")},
        "note": row.note,
        "sources": list(row.sources),
    }


def _cores(row: SamplingRow, wish: Wish) -> dict[str, Any]:
    """The guide's count; where the scatter is known, the count that brings the mean within the error (Cochran)."""
    usual: dict[str, Any] = {"low": row.cores_low, "high": row.cores_high}
    if wish.cv is None:
        return usual
    found = cores_needed(wish.cv, wish.error, wish.confidence)
    asked = {"cv_pct": wish.cv, "error_pct": wish.error, "confidence_pct": wish.confidence}
    return {**usual, "cores": found.cores, "t": round(found.t, 3), **asked}


def _samples(library: Library, row: SamplingRow, wish: Wish) -> dict[str, Any] | None:
    if wish.area is None and wish.unit is None:
        return None
    units = library.index(Units.of)
    if wish.area is None or wish.unit is None:
        raise invalid([FieldError("?unit", "missing", "an area comes with its unit", "area=3200&unit=ft2")])
    if not units.known(wish.unit) or units.dimension(wish.unit) != "area":
        wrong = f"{wish.unit[:40]!r} is no unit of area"
        raise invalid([FieldError("?unit", "unit_does_not_fit", wrong, "ft2, acre, m2, ha")])
    largest = row.area_max_acres
    square = units.square_metres(Quantity(wish.area, wish.unit))
    count = 1 if largest is None else ceil(square / units.square_metres(Quantity(largest, ACRE)) - 1e-9)
    return {"count": count, "area": {"value": wish.area, "unit": wish.unit}}


def _advice(library: Library, kind: str, wish: Wish) -> list[dict[str, Any]]:
    """Sentences of one list, those of the use first."""
    rows = [row for row in library.rows(ADVICE, WordRow) if row.list == kind]
    own = [row for row in rows if row.word.startswith(f"{wish.use}.")]
    for_all = [row for row in rows if "." not in row.word]
    return [_said(row, wish.language) for row in (*own, *for_all)]


def _said(row: WordRow, language: str) -> dict[str, Any]:
    text = row.label_es if language == "es" else row.label_en
    return {"code": row.word, "text": text, "verification": row.verification, "sources": list(row.sources)}
