"""What nobody can judge from what was sent, and what to order: only what matters for this crop and this site."""

from collections.abc import Callable, Mapping
from typing import NamedTuple

from service.agronomy.findings import NotAssessed, Note, Salinity, Sodium, Word
from service.agronomy.health import Rules, several_sources
from service.agronomy.reaction import Reaction
from service.agronomy.sample import Case, Measurement
from service.agronomy.vocabulary import NOT_STATED, OBSERVED

NO_NITRATE_TEST = frozenset(("turf", "woody", "tree"))
"""Plants whose nitrogen goes by season and age, not by a nitrate test."""
SALTY = frozenset(("slightly_saline", "moderately_saline", "strongly_saline"))
USED_BY_SALTS = "saturated_paste_extract"
ASKED_ABOUT = frozenset(
    (
        "void.unit_missing",
        "void.unit_does_not_fit",
        "void.not_a_number",
        "void.value_missing",
        "void.word_unknown",
        "void.word_expected",
        "void.figure_expected",
        "void.impossible_value",
        "void.likely_slip",
        "void.contradicts",
        "void.depth_impossible",
        "void.texture_sum",
        "void.ec_dilution",
        "void.ec_or_cations",
    )
)
"""Why a figure is not used where an answer about it, and no new sample, may settle it."""


class Scene(NamedTuple):
    """What decides whether a subject matters here.

    ``bare``: neither salts nor phosphorus nor potassium were tested, so the report is a first look and the list long.
    """

    case: Case
    salinity: Salinity | None
    sodium: Sodium | None
    reaction: Reaction | None
    bare: bool


class Subject(NamedTuple):
    """One subject: the analytes that would answer it, whether they do, whether it matters."""

    subject: str
    analytes: tuple[str, ...]
    known: Callable[[Scene], bool]
    matters: Callable[[Scene], bool]


def list_missing(
    case: Case, salinity: Salinity | None, sodium: Sodium | None, reaction: Reaction | None
) -> tuple[NotAssessed, ...]:
    """Subjects that stay open, in the order in which a scientist would ask for them."""
    bare = salinity is None and not _usable(case, "P") and not _usable(case, "K")
    scene = Scene(case, salinity, sodium, reaction, bare)
    return tuple(_missing(case, item) for item in SUBJECTS if not item.known(scene) and item.matters(scene))


def _missing(case: Case, item: Subject) -> NotAssessed:
    """Not sent, sent in a way that cannot be read, or sent and not used: then the true reason, and what settles it."""
    sent = [found for found in case.soil if found.analyte in item.analytes]
    order, what = Note(f"ask.{item.subject}"), {"subject": Word("subject", item.subject)}
    if not sent:
        return NotAssessed(item.subject, Note(f"missing.{item.subject}"), order)
    tested = [found for found in sent if found.method not in OBSERVED]
    if not tested:
        return NotAssessed(item.subject, Note("missing.observation_only", what), order)
    spoilt = [case.voids[found.index] for found in tested if found.index in case.voids]
    if len(spoilt) < len(tested):
        return NotAssessed(item.subject, Note("missing.not_usable", what), order)
    why = Note("missing.not_used", {**what, "why": spoilt[0]})
    return NotAssessed(item.subject, why, Note("ask.settle_figure", what) if spoilt[0].code in ASKED_ABOUT else order)


def _usable(case: Case, analyte: str) -> bool:
    """Whether a laboratory figure by a named method stands for an analyte; extracts of salts do not count."""
    return any(_by_laboratory(found) for found in case.by_analyte.get(analyte, ()))


def _by_laboratory(found: Measurement) -> bool:
    return found.method not in OBSERVED and found.method not in (NOT_STATED, USED_BY_SALTS)


def _any(*analytes: str) -> Callable[[Scene], bool]:
    def known(scene: Scene) -> bool:
        return any(_usable(scene.case, analyte) for analyte in analytes)

    return known


def _always(_scene: Scene) -> bool:
    return True


def _rated(*analytes: str) -> Callable[[Scene], bool]:
    """The crop's library rates it, or nobody said which crop."""

    def matters(scene: Scene) -> bool:
        crop = scene.case.crop
        return crop is None or any(band.analyte in analytes for band in crop.sufficiency)

    return matters


def _pH_known(scene: Scene) -> bool:
    return any(found.method not in OBSERVED for found in scene.case.by_analyte.get("pH", ()))


def _salts_known(scene: Scene) -> bool:
    return scene.salinity is not None and scene.salinity.ece is not None


def _sodium_known(scene: Scene) -> bool:
    return scene.sodium is not None and scene.sodium.sodium_class != "unknown"


def _lime_known(scene: Scene) -> bool:
    return scene.reaction is not None and scene.reaction.calcareous is not None


def _om_known(scene: Scene) -> bool:
    return bool(scene.case.by_analyte.get("OM") or scene.case.by_analyte.get("OC"))


def _nitrate_known(scene: Scene) -> bool:
    return _usable(scene.case, "NO3-N") or any(found.analyte == "NO3-N" for found in scene.case.layers)


def _nitrate_matters(scene: Scene) -> bool:
    crop = scene.case.crop
    return crop is None or (NO_NITRATE_TEST.isdisjoint(crop.traits) and "legume" not in crop.traits)


def _boron_matters(scene: Scene) -> bool:
    """Only with a reason: asked for, a tender plant, or a first look at the soil."""
    crop = scene.case.crop
    tender = crop is not None and "boron_sensitive" in crop.traits
    return scene.bare or tender or "boron" in scene.case.submission.site.requests


def _texture_known(scene: Scene) -> bool:
    by_analyte, site = scene.case.by_analyte, scene.case.submission.site
    tested = any(name in by_analyte for name in ("texture", "sand", "clay"))
    return tested or site.texture is not None or "ribbon" in site.observations


def _texture_matters(scene: Scene) -> bool:
    """Where salts are unknown or only estimated, or sodium has to be dealt with."""
    ece = scene.salinity.ece if scene.salinity else None
    return ece is None or ece.estimated or (scene.sodium is not None and scene.sodium.sodium_class == "sodic")


def _lead_known(scene: Scene) -> bool:
    return any(found.analyte == "Pb" for found in (*scene.case.soil, *scene.case.layers))


def _lead_matters(scene: Scene) -> bool:
    """Only with a reason: children, an old house, a school, or a first look at ground that grows food."""
    case = scene.case
    if several_sources(case, case.library.index(Rules.of)) or case.submission.target.condition.use == "school":
        return True
    return scene.bare and (case.crop is None or "edible" in case.crop.traits)


def _water_known(scene: Scene) -> bool:
    return bool(scene.case.water)


def _water_matters(scene: Scene) -> bool:
    salty = scene.salinity is not None and scene.salinity.salinity_class in SALTY
    return scene.bare or salty or (scene.sodium is not None and scene.sodium.sodium_class == "sodic")


def _well_known(scene: Scene) -> bool:
    return scene.case.submission.site.well is None or scene.case.find_water("NO3-N") is not None


SUBJECTS: tuple[Subject, ...] = (
    Subject("pH", ("pH",), _pH_known, _always),
    Subject("salts", ("EC", "TDS"), _salts_known, _always),
    Subject("sodium", ("Na", "SAR", "ESP"), _sodium_known, _always),
    Subject("lime", ("lime", "CaCO3"), _lime_known, _always),
    Subject("organic_matter", ("OM", "OC"), _om_known, _always),
    Subject("nitrate", ("NO3-N",), _nitrate_known, _nitrate_matters),
    Subject("P", ("P",), _any("P"), _always),
    Subject("K", ("K",), _any("K"), _always),
    Subject("zinc", ("Zn",), _any("Zn"), _rated("Zn")),
    Subject("iron", ("Fe",), _any("Fe"), _rated("Fe")),
    Subject("boron", ("B",), _any("B"), _boron_matters),
    Subject("texture", ("texture", "sand", "clay"), _texture_known, _texture_matters),
    Subject("lead", ("Pb",), _lead_known, _lead_matters),
    Subject("irrigation_water", (), _water_known, _water_matters),
    Subject("well_water", (), _well_known, _always),
)
BY_NAME: Mapping[str, Subject] = {item.subject: item for item in SUBJECTS}
