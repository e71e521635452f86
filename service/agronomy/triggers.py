"""Every trigger word of the ``cautions`` table, and what must be there before it is worth looking at.

A trigger looks at the case and at what the answer recommends, and returns the values its sentence needs, or ``None``.
The limit it compares with comes from the row. Where the row prints *above* or *at or above*, the trigger keeps to it.
"""

from collections.abc import Callable, Mapping

from service.agronomy import trigger_figures as figures
from service.agronomy import trigger_plans as plans
from service.agronomy.findings import NOTHING, Values
from service.agronomy.scene import Limit, Scene

Trigger = Callable[[Scene, Limit], Values | None]


def _plan(holds: Callable[[Scene], bool]) -> Trigger:
    def run(scene: Scene, _limit: Limit) -> Values | None:
        return NOTHING if holds(scene) else None

    return run


# What must be there before a trigger is worth looking at: a word of `gates_of`, or ``soil:`` and an analyte.
TRIGGERS: Mapping[str, tuple[str, Trigger]] = {
    "water_nitrate_infant": ("water", figures.water_nitrate_infant),
    "water_nitrate_above": ("water", figures.water_nitrate_above),
    "water_nitrate_between": ("water", figures.water_nitrate_between),
    "water_nitrate_ion_above": ("water", figures.water_nitrate_ion_above),
    "well_and_fertilizer": ("well", _plan(plans.well_and_fertilizer)),
    "softened_water": ("irrigation", _plan(plans.softened_water)),
    "near_water_and_np": ("surface_water", figures.near_water_and_np),
    "soil_nitrate_above": ("soil:NO3-N", figures.soil_nitrate_above),
    "soil_copper_above": ("soil:Cu", figures.soil_copper_above),
    "soil_zinc_above": ("soil:Zn", figures.soil_zinc_above),
    "soil_boron_product": ("soil:B", figures.soil_boron_product),
    "water_boron": ("water", figures.water_boron),
    "boron_product": ("thought_of", figures.boron_product),
    "lead_by_extract": ("always", figures.lead_by_extract),
    "total_metal_reported": ("always", figures.total_metal_reported),
    "forage_livestock_concern": ("livestock", figures.forage_livestock_concern),
    "acid": ("thought_of", _plan(plans.acid)),
    "acid_at_home": ("thought_of", _plan(plans.acid_at_home)),
    "sulfur_recommended": ("thought_of", _plan(plans.sulfur_recommended)),
    "sulfur_and_nitrogen": ("thought_of", _plan(plans.sulfur_and_nitrogen)),
    "lime_and_nitrogen": ("thought_of", _plan(plans.lime_and_nitrogen)),
    "caustic_lime": ("named", _plan(plans.caustic_lime)),
    "livestock_and_litter": ("livestock", _plan(plans.livestock_and_litter)),
    "children_and_material": ("thought_of", _plan(plans.children_and_material)),
    "meals": ("thought_of", _plan(plans.meals)),
    "iron_recommended": ("always", _plan(plans.iron_recommended)),
    "organic_on_broadleaf": ("organics", figures.organic_on_broadleaf),
    "raw_manure_edible": ("organics", figures.raw_manure_edible),
    "biosolids_edible": ("organics", _plan(plans.biosolids_edible)),
    "wood_ash_alkaline": ("soil:pH", figures.wood_ash_alkaline),
    "phosphorus_lawn": ("always", _plan(plans.phosphorus_lawn)),
    "olsen_p_and_organic": ("soil:P", figures.olsen_p_and_organic),
    "alkaline_surface_nitrogen": ("soil:pH", figures.alkaline_surface_nitrogen),
    "limy_and_acid_wanted": ("soil:lime", figures.limy_and_acid_wanted),
    "gypsum_low_sar": ("thought_of", figures.gypsum_low_sar),
    "sodic_poor_drainage": ("always", _plan(plans.sodic_poor_drainage)),
    "sodic_and_sodium_salts": ("always", figures.sodic_and_sodium_salts),
    "saline_and_fertilizer": ("always", figures.saline_and_fertilizer),
    "saline_chloride_sensitive": ("thought_of", figures.saline_chloride_sensitive),
    "deep_digging": ("always", figures.deep_digging),
    "slope_and_fertilizer": ("slope", figures.slope_and_fertilizer),
    "frozen_ground": ("observations", _plan(plans.frozen_ground)),
    "always": ("always", _plan(plans.always)),
    "material_anhydrous_ammonia": ("named", _plan(plans.material("anhydrous_ammonia"))),
    "material_ammonium_nitrate": ("named", _plan(plans.material("ammonium_nitrate"))),
    "material_pet_waste": ("named", _plan(plans.material("pet_waste"))),
    "material_weed_and_feed": ("named", _plan(plans.material("weed_and_feed"))),
}


def gates_of(scene: Scene) -> list[str]:
    """The gates that stand open for this case: everything behind a shut one cannot be set off."""
    case, site = scene.case, scene.site
    gates = ["always"]
    gates.extend(f"soil:{analyte}" for analyte in case.by_analyte)
    doors = (
        ("water", case.water),
        ("well", site.well is not None),
        ("irrigation", site.irrigation_water is not None),
        ("surface_water", site.surface_water_distance is not None),
        ("livestock", case.submission.target.condition.livestock),
        ("thought_of", scene.given or scene.wanted or scene.materials),
        ("organics", scene.organics),
        ("named", scene.past),
        ("slope", site.slope_pct is not None),
        ("observations", site.observations),
    )
    gates.extend(name for name, opened in doors if opened)
    return gates
