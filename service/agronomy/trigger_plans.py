"""Triggers that look at what is planned and asked for: each is a plain yes or no."""

from collections.abc import Callable

from service.agronomy.reclaiming import FIELD_KINDS, PROFESSIONAL
from service.agronomy.scene import ORGANICS, Scene

CAUSTIC = frozenset(("quicklime", "hydrated_lime"))
MEALS = frozenset(("bone_meal", "blood_meal", "fish_meal", "feather_meal"))
AMPLE = frozenset(("sufficient", "high", "very_high", "excessive"))
POOR_DRAINAGE = frozenset(("slow", "ponded"))
NOT_WORKABLE = frozenset(("frozen", "snow", "saturated"))


def well_and_fertilizer(scene: Scene) -> bool:
    """A private well beside ground that is fed."""
    return scene.site.well is not None and scene.spread


def softened_water(scene: Scene) -> bool:
    """Irrigation from a household softener."""
    water = scene.site.irrigation_water
    return water is not None and water.source == "softened"


def acid(scene: Scene) -> bool:
    """Acid asked for or planned, by anybody."""
    return "acid" in scene.wanted or "acid" in scene.given or "sulfuric_acid" in scene.materials


def acid_at_home(scene: Scene) -> bool:
    """Acid where nobody said that a professional works; a use nobody named counts as home."""
    if scene.case.submission.target.condition.use in PROFESSIONAL:
        return False
    return acid(scene)


def sulfur_recommended(scene: Scene) -> bool:
    """Elemental sulfur is among the recommendations."""
    return "sulfur" in scene.given or "elemental_sulfur" in scene.materials


def sulfur_and_nitrogen(scene: Scene) -> bool:
    """Elemental sulfur and a nitrogen fertilizer in the same plan."""
    return "sulfur" in scene.given and "N" in scene.given


def lime_and_nitrogen(scene: Scene) -> bool:
    """Lime or wood ash and nitrogen or manure in the same plan."""
    limes = bool(scene.given & {"lime", "wood_ash"})
    return limes and ("N" in scene.given or "manure" in scene.organics)


def caustic_lime(scene: Scene) -> bool:
    """Quicklime or hydrated lime named."""
    return bool(scene.past & CAUSTIC)


def livestock_and_litter(scene: Scene) -> bool:
    """Copper-rich litter or copper itself on ground that feeds livestock."""
    if scene.case.submission.target.condition.livestock is not True:
        return False
    return "poultry_manure" in scene.organics or "Cu" in scene.given


def children_and_material(scene: Scene) -> bool:
    """A material to buy and keep where children are."""
    return scene.site.children is True and bool(scene.given)


def meals(scene: Scene) -> bool:
    """Animal meals named, or nitrogen for a garden that takes organic materials only."""
    organic = "organic_only" in scene.wanted or scene.case.submission.target.condition.organic_only is True
    return bool(scene.materials & MEALS) or (organic and "N" in scene.given)


def fertigation(scene: Scene) -> bool:
    """Acid planned, or asked for and not refused: what is refused needs no backflow preventer."""
    return acid(scene) and ("acid" not in scene.refused or "sulfuric_acid" in scene.materials)


def iron_recommended(scene: Scene) -> bool:
    """Iron is among the recommendations, sprayed or spread, where there is paving: not on a field."""
    crop = scene.case.crop
    return scene.iron and (crop is None or crop.kind not in FIELD_KINDS)


def biosolids_edible(scene: Scene) -> bool:
    """Biosolids on ground that grows food."""
    return "biosolids" in scene.organics and scene.edible


def phosphorus_lawn(scene: Scene) -> bool:
    """Phosphate going on a lawn whose soil has enough."""
    crop = scene.case.crop
    if crop is None or crop.kind != "lawn" or not ("P2O5" in scene.given or scene.organics & ORGANICS):
        return False
    return any(item.analyte == "P" and item.rating in AMPLE for item in scene.findings)


def sodic_poor_drainage(scene: Scene) -> bool:
    """A sodic soil from which the water does not drain."""
    sodic = scene.sodium is not None and scene.sodium.sodium_class == "sodic"
    return sodic and scene.site.drainage in POOR_DRAINAGE


def frozen_ground(scene: Scene) -> bool:
    """Something to spread on ground that is frozen, snowed in or soaked."""
    return scene.site.observations.get("ground") in NOT_WORKABLE and (bool(scene.given) or scene.spread)


def always(_scene: Scene) -> bool:
    """What every answer says: it waits for nothing, so no word opens it."""
    return True


def material(name: str) -> Callable[[Scene], bool]:
    """A material named in the answer."""

    def named(scene: Scene) -> bool:
        return name in scene.materials

    return named
