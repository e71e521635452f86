"""Every trigger word of the ``cautions`` table, and what must be there before it is worth looking at.

A trigger looks at the case and at what the answer recommends, and returns the values its sentence needs, or ``None``.
The limit it compares with comes from the row. Where the row prints *above* or *at or above*, the trigger keeps to it.
"""

from collections.abc import Callable, Mapping

from service.agronomy import trigger_figures as figures
from service.agronomy import trigger_plans as plans
from service.agronomy.findings import NOTHING, Values
from service.agronomy.scene import ORGANICS, SPREAD, Limit, Scene

Trigger = Callable[[Scene, Limit], Values | None]


def _plan(holds: Callable[[Scene], bool]) -> Trigger:
    def run(scene: Scene, _limit: Limit) -> Values | None:
        return NOTHING if holds(scene) else None

    return run


# Trigger word -> words of `Scene.open`, any of which must be there before it is worth looking at, and the trigger.
TRIGGERS: Mapping[str, tuple[tuple[str, ...], Trigger]] = {
    "water_nitrate_infant": (("water",), figures.water_nitrate_infant),
    "well_untested_infant": (("well",), figures.well_untested_infant),
    "water_nitrate_above": (("water",), figures.water_nitrate_above),
    "water_nitrate_no_well": (("water",), figures.water_nitrate_no_well),
    "water_nitrate_between": (("water",), figures.water_nitrate_between),
    "water_nitrate_ion_above": (("water",), figures.water_nitrate_ion_above),
    "well_and_fertilizer": (("well",), _plan(plans.well_and_fertilizer)),
    "softened_water": (("softened",), _plan(plans.softened_water)),
    "near_water_and_np": (("surface_water",), figures.near_water_and_np),
    "soil_nitrate_above": (("NO3-N",), figures.soil_nitrate_above),
    "soil_copper_above": (("Cu",), figures.soil_copper_above),
    "soil_zinc_above": (("Zn",), figures.soil_zinc_above),
    "soil_boron_product": (("B",), figures.soil_boron_product),
    "water_boron": (("water",), figures.water_boron),
    "boron_product": (
        (
            "boron",
            "B",
            *figures.BORON_PRODUCTS,
        ),
        figures.boron_product,
    ),
    "lead_by_extract": (("metals",), figures.lead_by_extract),
    "total_metal_reported": (("metals",), figures.total_metal_reported),
    "forage_livestock_concern": (("livestock",), figures.forage_livestock_concern),
    "acid": (("acid", "sulfuric_acid"), _plan(plans.fertigation)),
    "acid_at_home": (("acid", "sulfuric_acid"), _plan(plans.acid_at_home)),
    "sulfur_recommended": (("sulfur", "elemental_sulfur"), _plan(plans.sulfur_recommended)),
    "sulfur_and_nitrogen": (("sulfur",), _plan(plans.sulfur_and_nitrogen)),
    "lime_and_nitrogen": (("lime", "wood_ash"), _plan(plans.lime_and_nitrogen)),
    "caustic_lime": ((*plans.CAUSTIC,), _plan(plans.caustic_lime)),
    "livestock_and_litter": (("livestock",), _plan(plans.livestock_and_litter)),
    "children_and_material": (("children",), _plan(plans.children_and_material)),
    "meals": (("N", *plans.MEALS), _plan(plans.meals)),
    "iron_recommended": (("iron_given",), _plan(plans.iron_recommended)),
    "organic_on_broadleaf": ((*figures.CARRIERS,), figures.organic_on_broadleaf),
    "raw_manure_edible": (("manure",), figures.raw_manure_edible),
    "biosolids_edible": (("biosolids",), _plan(plans.biosolids_edible)),
    "wood_ash_alkaline": (("wood_ash",), figures.wood_ash_alkaline),
    "phosphorus_lawn": (("P2O5", "compost", "manure"), _plan(plans.phosphorus_lawn)),
    "olsen_p_and_organic": (("compost", "manure"), figures.olsen_p_and_organic),
    "alkaline_surface_nitrogen": (("N",), figures.alkaline_surface_nitrogen),
    "limy_and_acid_wanted": ((*figures.ACIDIFIERS,), figures.limy_and_acid_wanted),
    "gypsum_low_sar": (("gypsum",), figures.gypsum_low_sar),
    "sodic_poor_drainage": (("sodic",), _plan(plans.sodic_poor_drainage)),
    "sodic_and_sodium_salts": (("softened", *figures.SODIUM_SALTS), figures.sodic_and_sodium_salts),
    "saline_and_fertilizer": ((*SPREAD, *ORGANICS), figures.saline_and_fertilizer),
    "saline_chloride_sensitive": (("K2O",), figures.saline_chloride_sensitive),
    "deep_digging": (("any",), figures.deep_digging),
    "slope_and_fertilizer": (("slope",), figures.slope_and_fertilizer),
    "frozen_ground": (("ground",), _plan(plans.frozen_ground)),
    "always": ((), _plan(plans.always)),
    "material_anhydrous_ammonia": (("anhydrous_ammonia",), _plan(plans.material("anhydrous_ammonia"))),
    "material_ammonium_nitrate": (("ammonium_nitrate",), _plan(plans.material("ammonium_nitrate"))),
    "material_pet_waste": (("pet_waste",), _plan(plans.material("pet_waste"))),
    "material_weed_and_feed": (("weed_and_feed",), _plan(plans.material("weed_and_feed"))),
}
