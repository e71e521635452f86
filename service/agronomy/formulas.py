"""Which functions carry out the equations of the table ``formulas``: the index behind the matrix document.

Every row of the table stands here. A row with no function is kept for comparison and nothing is computed by it.
"""

from collections.abc import Callable, Mapping
from typing import Any

from service.agronomy import (
    acidity,
    borderline,
    checks_soil,
    checks_solution,
    conductivity,
    equations,
    gypsum,
    hydrometer,
    ions,
    leaching,
    nitrogen_credits,
    salinity,
    sampling,
    sodicity,
    sodium_reading,
    tolerance,
    water,
)
from service.agronomy.acid_advice import convention_mass
from service.agronomy.calculations import blend, products
from service.agronomy.ece import estimated_ece
from service.agronomy.units import ClientUnits, Units, difference_pct

type_of_functions = tuple[Callable[..., Any], ...]
NONE: type_of_functions = ()

FORMULAS: Mapping[str, type_of_functions] = {
    "sar": (sodicity.sar,),
    "me_l": (Units.express,),
    "esr": (sodicity.exchangeable_ratio,),
    "esp_direct": (sodicity.esp_direct,),
    "esp_exchangeable": (sodicity.esp_direct,),
    "esp_sar": (sodicity.esp_from_sar, sodicity.sar_from_esp),
    "esp_near": NONE,
    "exchangeable_na": (sodicity.exchangeable_sodium,),
    "adj": (sodicity.calcium_expected, sodicity.adjusted_sar),
    "rsc": (acidity.residual_sodium_carbonate,),
    "sar_unit_slip": NONE,
    "class": (sodium_reading.classify,),
    "salt_rank": (salinity.assess,),
    "tds": (conductivity.dissolved_salts, conductivity.ec_from_dissolved_salts),
    "sumcat": (ions.ion_balance,),
    "osm": (conductivity.osmotic_pressure,),
    "opfc": NONE,
    "ecsw": NONE,
    "saltload": (conductivity.salt_load,),
    "ec15_sp": (conductivity.ece_by_saturation,),
    "ec_dil": (conductivity.ece_by_line, conductivity.ece_range, estimated_ece),
    "smp_misc": NONE,
    "mh": (tolerance.relative_yield, tolerance.ece_for_yield),
    "vg": (tolerance.s_curve,),
    "steppuhn": (tolerance.s_curve_of, tolerance.steep_s_curve, tolerance.ece_on_curve),
    "lr": (leaching.leaching_requirement,),
    "lr_hf": (leaching.leaching_requirement_frequent,),
    "lr_hb60": (leaching.leaching_requirement_drainage,),
    "aw": (leaching.applied_water,),
    "lfprof": NONE,
    "ece_from_ecw": NONE,
    "recl": (leaching.reclamation_water,),
    "recl_b": (leaching.reclamation_water,),
    "reclamation_net": (leaching.reclamation_water,),
    "infilt": (water.restriction, water.applies),
    "gr": (gypsum.sodium_to_replace,),
    "gr_t": (gypsum.gypsum_rate, gypsum.soil_mass),
    "gr_us": (gypsum.gypsum_rate, gypsum.soil_mass),
    "gr_met": (gypsum.gypsum_rate, gypsum.soil_mass),
    "gypsum_mass": (gypsum.gypsum_rate, gypsum.soil_mass),
    "gypsum_rate": (gypsum.gypsum_rate, gypsum.soil_mass),
    "gypsum_from_lime": (acidity.gypsum_formed,),
    "acid_for_lime": NONE,
    "s_for_lime": (acidity.carbonate, acidity.sulfur_for_carbonate),
    "s_by_texture": (acidity.between,),
    "lime_ncda": (acidity.lime_by_mehlich, acidity.lime_by_acidity),
    "lime_adams_evans": (acidity.lime_by_adams_evans,),
    "lime_table": (acidity.lime_by_table,),
    "lime_material": (acidity.lime_material,),
    "ecce": NONE,
    "acidity_of_n": NONE,
    "hydrometer_corrected": (hydrometer.particle_sizes,),
    "hydrometer_finer": (hydrometer.particle_sizes,),
    "hydrometer_density": (hydrometer.particle_sizes,),
    "hydrometer_temperature_linear": (hydrometer.particle_sizes,),
    "stokes_k": (hydrometer.Curves.k_at,),
    "stokes_diameter": (hydrometer.diameter_um,),
    "effective_depth": (hydrometer.Curves.effective_depth_cm,),
    "two_reading": (hydrometer.shares,),
    "clay_2um_mean": (hydrometer.clay_from_24_hours,),
    "clay_2um_log": NONE,
    "oven_dry_mass": NONE,
    "cores_needed": (sampling.cores_needed, sampling.student_t),
    "core_error": NONE,
    "nwater": (conductivity.nitrogen_in_water,),
    "no3n": (Units.form_factor,),
    "nitrate_credit": (Units.express,),
    "nitrate_credit_per_foot": (nitrogen_credits.Profile.amount,),
    "nitrate_credit_convention": NONE,
    "mass_per_area": (Units.express,),
    "furrow_slice": (convention_mass,),
    "water_depth": (ClientUnits.volume,),
    "product_amount": (products.product_amount,),
    "blend": (blend.blend,),
    "blend_supply": (blend.supply,),
    "salt_load": (blend.salt_load,),
    "ion_balance": (ions.charge_difference_pct, ions.ion_balance, ions.balance_verdict),
    "ec_cations": (ions.ion_balance, checks_solution.check_solutions),
    "nitrate_meq": (checks_soil.check_saturation,),
    "cec_clay_om": (checks_soil.check_exchange,),
    "c_n_ratio": (checks_soil.check_organic_matter,),
    "om_from_oc": NONE,
    "tic": NONE,
    "rpd": (difference_pct,),
    "class_probability": (borderline.probability_beyond, borderline.probability_beyond_lognormal),
}
"""Formula id -> the functions that carry it out."""

RATE_EQUATIONS: Mapping[str, Callable[..., float]] = {
    function.__name__: function
    for function in (
        equations.yield_nitrate_om,
        equations.yield_profile_nitrate_om,
        equations.yield_profile_nitrate,
        equations.nitrate_shortfall,
        equations.per_age,
        equations.per_trunk_inch,
        equations.per_yield_unit,
        equations.yield_and_test,
        equations.linear_in_test,
        equations.interpolate,
    )
}
"""Equations that a rate row names, by name; their coefficients stand in the rows."""
