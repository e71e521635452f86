"""Everything the page of one crop shows, in the visitor's words."""

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from service.agronomy.submission import Quantity
from service.agronomy.tables import Crop, Library, Row, Source
from service.catalog.catalog import Catalog
from service.pages.ladders import Subject, Warrant, said, subjects
from service.pages.rates import Nutrient, nutrients
from service.pages.search import Hit, hit
from service.pages.timing import Season, rows_of, seasons
from service.pages.tolerances import Response, Tolerance, acidity, tolerances
from service.pages.worked import Worked, worked_cases
from service.render.words import Words

COMMON_PRACTICE = Warrant(("practice",), "", "practice", "")
"""What season notes rest on: no single source prints them."""


class Caution(NamedTuple):
    """A caution of the crop's own: how grave, what it says, what it rests on."""

    severity: str
    level: str
    text: str
    warrant: Warrant


class CropPage(NamedTuple):
    """One crop at one edition. ``depth`` is the sampling depth in inches and in centimetres."""

    hit: Hit
    depth: tuple[str, str]
    traits: tuple[str, ...]
    notes: tuple[str, ...]
    notes_warrant: Warrant
    cautions: tuple[Caution, ...]
    alternatives: tuple[Hit, ...]
    acidity: Response | None
    tolerances: tuple[Tolerance, ...]
    subjects: tuple[Subject, ...]
    nutrients: tuple[Nutrient, ...]
    seasons: tuple[Season, ...]
    cases: tuple[Worked, ...]
    editions: tuple[str, ...]
    sources: tuple[Source, ...]


def crop_page(crop: Crop, library: Library, catalog: Catalog, words: Words) -> CropPage:
    """The page of one crop edition."""
    file = catalog.files.get((crop.id, crop.edition.edition))
    return CropPage(
        hit=hit(crop, words.language),
        depth=_depth(crop, words),
        traits=tuple(sorted(_trait(trait, words) for trait in crop.traits)),
        notes=tuple(_note(code, words) for code in crop.notes),
        notes_warrant=COMMON_PRACTICE,
        cautions=tuple(_cautions(crop, words)),
        alternatives=tuple(
            hit(library.crops[name], words.language) for name in crop.alternatives if name in library.crops
        ),
        acidity=acidity(crop, words),
        tolerances=tolerances(crop, words),
        subjects=subjects(crop.sufficiency, crop.calibrations, words),
        nutrients=nutrients(crop.amounts, crop.calibrations, words),
        seasons=seasons(crop.amounts, library, words),
        cases=worked_cases(file.folder, words) if file else (),
        editions=catalog.editions_of(crop.id),
        sources=cited(_rows(crop, library), catalog.sources),
    )


def _depth(crop: Crop, words: Words) -> tuple[str, str]:
    top, bottom = crop.depth_in
    inches = {"top": float(top), "bottom": words.quantity(Quantity(float(bottom), "in"))}
    metric = {"top": round(top * 2.54), "bottom": words.quantity(Quantity(float(round(bottom * 2.54)), "cm"))}
    return words.text("page.library.from_to", inches), words.text("page.library.from_to", metric)


def _note(code: str, words: Words) -> str:
    return words.text(f"crop.{code}") if words.has(f"crop.{code}") else code.replace("_", " ")


def _cautions(crop: Crop, words: Words) -> Iterable[Caution]:
    for caution in crop.cautions:
        warrant = Warrant(caution.sources, "", caution.verification, "")
        yield Caution(
            caution.severity, said(words, "severity", caution.severity), words.text(f"caution.{caution.code}"), warrant
        )


def _trait(trait: str, words: Words) -> str:
    code = f"page.library.trait.{trait}"
    return words.text(code) if words.has(code) else trait.replace("_", " ")


def _rows(crop: Crop, library: Library) -> Iterable[Any]:
    yield from (*crop.sufficiency, *crop.amounts, *crop.salt_rivals, *crop.cautions)
    single: tuple[Row | None, ...] = (crop.salt, crop.boron, crop.chloride, crop.pH_source)
    yield from (row for row in single if row is not None)
    yield from (row for rows in rows_of(crop.amounts, library).values() for row in rows)
    if crop.notes:
        yield COMMON_PRACTICE


def cited(rows: Iterable[Any], sources: Mapping[str, Source]) -> tuple[Source, ...]:
    """The works that rows name, by id."""
    used = {name for row in rows for name in row.sources}
    return tuple(sources[name] for name in sorted(used, key=str.casefold) if name in sources)
