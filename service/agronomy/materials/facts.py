"""What the rules on materials ask of a case: each word of ``material-rules`` as true, or as a figure."""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from service.agronomy.calibration import SANDS
from service.agronomy.findings import Recommendation, Salinity, Sodium, Texture
from service.agronomy.plot import SALINE_CLASSES, prepare_settings
from service.agronomy.reaction import Reaction
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.tables import CautionRow, Library
from service.agronomy.timing import in_heat
from service.agronomy.units import Units, scaled

FARMING = frozenset(("field", "forage"))
FARM_USES = frozenset(("field", "market"))
BOTH_USES = frozenset(("sports", "school"))
HOME, FARM = "home", "farm"
REFUSED = frozenset(("none_needed", "do_not"))
ALKALINE = frozenset(("moderately_alkaline", "strongly_alkaline"))
SEEDLING = frozenset(("seeding", "overseeding"))
"""Stages in which lawn fertilizer lies beside the seed; elsewhere it is worked in before, or given to grown plants."""
CONTAINER = frozenset(("container", "containers"))


class Scene(NamedTuple):
    """The case with what the steps before found."""

    case: Case
    recommendations: Sequence[Recommendation]
    salinity: Salinity | None
    sodium: Sodium | None
    reaction: Reaction
    texture: Texture | None
    barred: frozenset[str] = frozenset()
    """Subjects that a caution rules out: nothing is chosen for them, and nothing may bring them."""


class Facts(NamedTuple):
    """Words that are known to be true, and the figures behind those that have one."""

    true: frozenset[str]
    figures: Mapping[str, float]
    buyers: frozenset[str]
    """Where the client buys: home, farm, or both."""


def facts_of(scene: Scene) -> Facts:
    """Every word of the rules that the case makes true. What nobody sent makes nothing true."""
    figures = {word: value for word, look in FIGURES.items() if (value := look(scene)) is not None}
    buyers = buyers_of(scene.case)
    true = {word for word, holds in WORDS.items() if holds(scene)} | buyers
    return Facts(frozenset(true), figures, buyers)


def buyers_of(case: Case) -> frozenset[str]:
    """Fields and market gardens buy at the farm store, homes in the garden shop, sports grounds and schools at both."""
    use = case.submission.target.condition.use
    if use in BOTH_USES:
        return frozenset((HOME, FARM))
    farming = use in FARM_USES or (use is None and case.crop is not None and case.crop.kind in FARMING)
    return frozenset((FARM if farming else HOME,))


def _ece(scene: Scene) -> float | None:
    return scene.salinity.ece.value if scene.salinity and scene.salinity.ece else None


def _sar(scene: Scene) -> float | None:
    return scene.sodium.sar if scene.sodium else None


FIGURES: Mapping[str, Callable[[Scene], float | None]] = {
    "saline": _ece,
    "sodic": _sar,
    "alkaline": lambda scene: scene.reaction.pH,
    "slope": lambda scene: scene.case.submission.site.slope_pct,
}


def organic_only(case: Case) -> bool:
    """Whether the client wants organic sources only, told as a condition or as a wish."""
    site, condition = case.submission.site, case.submission.target.condition
    return condition.organic_only is True or "organic_only" in site.requests


def _near_water(scene: Scene) -> bool:
    distance = scene.case.submission.site.surface_water_distance
    line = scene.case.library.index(_water_line)
    if distance is None or line is None:
        return False
    return scaled(scene.case.library.index(Units.of).feet(distance)) <= scaled(line)


def _water_line(library: Library) -> float | None:
    """The distance of the caution on surface water, ft."""
    rows = library.rows("cautions", CautionRow)
    return next((row.value for row in rows if row.caution == "near_water" and row.unit == "ft"), None)


def _lawn(scene: Scene) -> bool:
    return scene.case.crop is not None and scene.case.crop.kind == "lawn"


def _trait(word: str) -> Callable[[Scene], bool]:
    return lambda scene: scene.case.crop is not None and word in scene.case.crop.traits


def _chloride_sensitive(scene: Scene) -> bool:
    """A plant that bears little chloride in the soil, by its published threshold."""
    case, crop = scene.case, scene.case.crop
    threshold = crop.chloride.threshold_meq_L if crop is not None and crop.chloride is not None else None
    if threshold is None:
        return False
    line = reference_of(case.library).factor("chloride_sensitive_meq_L").value
    return scaled(threshold) <= scaled(line)


def _container(scene: Scene) -> bool:
    crop, sample = scene.case.crop, scene.case.submission.sample
    named = crop is not None and not CONTAINER.isdisjoint((crop.id, crop.group))
    return named or sample.material == "potting_mix"


def _spared(subject: str) -> Callable[[Scene], bool]:
    return lambda scene: any(item.subject == subject and item.kind in REFUSED for item in scene.recommendations)


def _hot(scene: Scene) -> bool:
    """The hot weeks of cool-season turf."""
    case, crop = scene.case, scene.case.crop
    if crop is None:
        return False
    settings = case.library.index(prepare_settings)
    plot = settings.plot(case, crop, scene.salinity, scene.texture, scene.reaction.calcareous)
    return in_heat(plot.setting, case.as_of)


def _sandy(scene: Scene) -> bool:
    texture = scene.texture
    return (texture.texture_class if texture else scene.case.submission.site.texture) in SANDS


WORDS: Mapping[str, Callable[[Scene], bool]] = {
    "saline": lambda scene: scene.salinity is not None and scene.salinity.salinity_class in SALINE_CLASSES,
    "sodic": lambda scene: scene.sodium is not None and scene.sodium.sodium_class == "sodic",
    "alkaline": lambda scene: scene.reaction.pH_class in ALKALINE,
    "limy": lambda scene: scene.reaction.calcareous is True,
    "not_limy": lambda scene: scene.reaction.calcareous is False,
    "chloride_sensitive": _chloride_sensitive,
    "sandy": _sandy,
    "slope": lambda scene: scene.case.submission.site.slope_pct is not None,
    "near_water": _near_water,
    "organic_only": lambda scene: organic_only(scene.case),
    "container": _container,
    "edible": _trait("edible"),
    "p_none_needed": _spared("P2O5"),
    "hot_season": _hot,
    "seedling": lambda scene: _lawn(scene) and scene.case.submission.target.stage in SEEDLING,
    "lawn": _lawn,
    "sheep": lambda scene: scene.case.submission.target.condition.livestock is True,
}
"""The words without a figure. One that is not listed (``paving``) is never known to be true."""
