"""Triggers that compare a figure with the limit of their row, and return what the sentence needs."""

from service.agronomy.errors import TableError
from service.agronomy.findings import NOTHING, Note, Values, Word
from service.agronomy.health import forage_concern, millionths, shown, untested_well_infant
from service.agronomy.lime_state import LABORATORY_PH, lime_of
from service.agronomy.reclaiming import FIELD_KINDS
from service.agronomy.reference import reference_of
from service.agronomy.sample import Measurement
from service.agronomy.scene import ORGANICS, Limit, Scene
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, LimitRow
from service.agronomy.units import Units, scaled, significant

LAWN, METRIC = "lawn", "metric"
STRIP = "setback_surface_water"
ACIDIFIERS = frozenset(("lower_ph", "sulfur", "aluminum_sulfate", "vinegar", "coffee_grounds", "acid"))
SODIUM_SALTS = frozenset(("sodium_nitrate", "sodium_borate", "borax", "baking_soda"))
BORON_TENDER = frozenset(("very_sensitive", "sensitive", "very sensitive"))
CHLORIDE_TENDER = frozenset(("chloride_sensitive", "salt_sensitive"))
CARRIERS = frozenset(("compost", "manure", "straw", "hay", "grass_clippings"))
NOT_BROADLEAF = frozenset(("turf", "grass", "woody", "tree", "forage"))
BORON_PRODUCTS = frozenset(("borax", "sodium_borate", "boric_acid"))


def _above(found: Measurement | None, limit: Limit) -> Values | None:
    """The figure when it may lie above the limit."""
    if found is None or millionths(found.high) <= limit.value:
        return None
    return {"value": shown(found), "limit": limit.printed}


def _at_least(found: Measurement | None, limit: Limit) -> Values | None:
    """The figure when it may lie at or above the limit."""
    if found is None or millionths(found.high) < limit.value:
        return None
    return {"value": shown(found), "limit": limit.printed}


def _when(holds: bool) -> Values | None:
    return NOTHING if holds else None


def water_nitrate_infant(scene: Scene, limit: Limit) -> Values | None:
    """Above the limit in a well; silent only where somebody said that no infant drinks it."""
    well = scene.site.well
    if well is None or well.infant is False:
        return None
    return _above(scene.case.find_water("NO3-N"), limit)


def well_untested_infant(scene: Scene, _limit: Limit) -> Values | None:
    """A garden very rich in nitrate beside an infant's well that nobody has tested."""
    found = untested_well_infant(scene.case)
    return None if found is None else {"value": found}


def water_nitrate_above(scene: Scene, limit: Limit) -> Values | None:
    """Above the limit for drinking water, in a well that somebody may drink from."""
    return None if scene.site.well is None else _above(scene.case.find_water("NO3-N"), limit)


def water_nitrate_no_well(scene: Scene, limit: Limit) -> Values | None:
    """Above the limit for drinking water, in irrigation water that nobody called a well's."""
    return _above(scene.case.find_water("NO3-N"), limit) if scene.site.well is None else None


def water_nitrate_between(scene: Scene, limit: Limit) -> Values | None:
    """Raised but not above the limit, in a private well."""
    found = scene.case.find_water("NO3-N")
    if found is None or scene.site.well is None:
        return None
    if millionths(found.high) > limit.upper or millionths(found.high) < limit.value:
        return None
    return {"value": shown(found)}


def water_nitrate_ion_above(scene: Scene, limit: Limit) -> Values | None:
    """Reported as the nitrate ion, so high that the two ways of reporting must be told apart."""
    for found in scene.case.water:
        value = found.reported.value
        if found.reported.analyte == "NO3" and value is not None and scaled(value) > limit.value:
            return {"value": Quantity(value, found.reported.unit or ""), "as_nitrogen": shown(found)}
    return None


def near_water_and_np(scene: Scene, limit: Limit) -> Values | None:
    """Nitrogen or phosphate close to a stream, ditch or pond."""
    distance = scene.site.surface_water_distance
    if distance is None or not (scene.given & {"N", "P2O5"} or scene.organics & ORGANICS):
        return None
    feet = scene.case.library.index(Units.of).feet(distance)
    if scaled(feet) >= limit.value or limit.printed is None:
        return None
    strip = scene.case.library.index(prepare_strip)
    return {"limit": _ground(scene, limit.printed), "distance": distance, "strip": _ground(scene, strip)}


def prepare_strip(library: Library) -> Quantity:
    """The least strip along water that a lawn's fertilizer stays off: a row of ``application-limits``."""
    rows = [row for row in library.rows("application-limits", LimitRow) if row.limit == STRIP]
    if len(rows) != 1:
        raise TableError(f"application-limits needs one row {STRIP}")
    return Quantity(rows[0].maximum, rows[0].unit)


def _ground(scene: Scene, length: Quantity) -> Quantity:
    """A length on the ground as the client reads it: feet, or meters."""
    if scene.case.units.system != METRIC:
        return length
    return Quantity(significant(scene.case.library.index(Units.of).convert(length.value, length.unit, "m"), 2), "m")


def soil_nitrate_above(scene: Scene, limit: Limit) -> Values | None:
    """Much nitrate in the top layer already."""
    return _above(scene.soil("NO3-N"), limit)


def soil_copper_above(scene: Scene, limit: Limit) -> Values | None:
    """Copper by DTPA far above need."""
    return _above(scene.soil("Cu", "dtpa"), limit)


def soil_zinc_above(scene: Scene, limit: Limit) -> Values | None:
    """Zinc by DTPA far above need."""
    return _above(scene.soil("Zn", "dtpa"), limit)


def soil_boron_product(scene: Scene, limit: Limit) -> Values | None:
    """Boron enough by hot water where a boron product is thought of."""
    if not _boron_wanted(scene):
        return None
    return _at_least(scene.soil("B", "hot_water"), limit)


def water_boron(scene: Scene, limit: Limit) -> Values | None:
    """Boron in the irrigation water of a sensitive crop, or where a boron product is thought of."""
    crop = scene.case.crop
    tender = crop is not None and (
        "boron_sensitive" in crop.traits or (crop.boron is not None and crop.boron.tolerance_class in BORON_TENDER)
    )
    if not (tender or _boron_wanted(scene)):
        return None
    return _at_least(scene.case.find_water("B"), limit)


def boron_product(scene: Scene, limit: Limit) -> Values | None:
    """A boron product on a small area, where ounces decide; an area nobody gave counts as small."""
    area = scene.case.area_m2
    units = scene.case.library.index(Units.of)
    if area is not None and limit.printed and scaled(area) >= scaled(units.square_metres(limit.printed)):
        return None
    return _when(_boron_wanted(scene))


def _boron_wanted(scene: Scene) -> bool:
    return "boron" in scene.wanted or "B" in scene.given or bool(scene.materials & BORON_PRODUCTS)


def lead_by_extract(scene: Scene, _limit: Limit) -> Values | None:
    """Lead, arsenic or cadmium by a method that does not give the total."""
    for metal in scene.metals:
        if not metal.total:
            found = metal.measurement
            return {"metal": Word("analyte", found.analyte), "method": Word("method", found.method)}
    return None


def total_metal_reported(scene: Scene, _limit: Limit) -> Values | None:
    """A total metal below every level that calls for a person: a routine note, never an all-clear."""
    for metal in scene.metals:
        level = metal.lowest
        if metal.total and metal.hold is None and level is not None:
            return {
                "metal": Word("analyte", metal.measurement.analyte),
                "value": shown(metal.measurement),
                "level": Quantity(level.value, level.unit),
                "since": level.in_force_from,
            }
    return None


def forage_livestock_concern(scene: Scene, _limit: Limit) -> Values | None:
    """Feed grown on soil rich in nitrate or a trace element."""
    found = forage_concern(scene.case)
    if not found:
        return None
    what = tuple(Word("analyte", analyte) for _, analyte, _ in found)
    nitrate = any(analyte == "NO3-N" for _, analyte, _ in found)
    return {"what": what, "more": Note("caution.forage_nitrate_facts") if nitrate else ""}


def wood_ash_alkaline(scene: Scene, limit: Limit) -> Values | None:
    """Wood ash thought of where the soil is neutral or alkaline."""
    if "wood_ash" not in scene.wanted and "wood_ash" not in scene.past | scene.organics:
        return None
    return _at_least(scene.soil("pH", *LABORATORY_PH), limit)


def olsen_p_and_organic(scene: Scene, limit: Limit) -> Values | None:
    """Compost or manure thought of where phosphorus has piled up."""
    if not (scene.organics | scene.wanted) & ORGANICS:
        return None
    return _above(scene.soil("P", "olsen"), limit)


def alkaline_surface_nitrogen(scene: Scene, limit: Limit) -> Values | None:
    """Nitrogen for an alkaline soil, where urea left on the surface is lost."""
    if "N" not in scene.given:
        return None
    found = _at_least(scene.soil("pH", *LABORATORY_PH), limit)
    if found is None:
        return None
    depth = reference_of(scene.case.library).factor("urea_water_in_in").value
    code = "caution.urea.water" if _ground_kind(scene) == LAWN else "caution.urea.water_or_work"
    return {**found, "how": Note(code, {"water": scene.case.units.depth(depth)})}


def raw_manure_edible(scene: Scene, _limit: Limit) -> Values | None:
    """Manure on ground that grows food, with the waiting times; manure nobody called composted counts as raw.

    Where the answer refuses manure, waiting times would read as leave to use it.
    """
    if "manure" not in scene.organics or "manure" in scene.refused or not scene.edible:
        return None
    factor = reference_of(scene.case.library).factor
    return {
        "touching": factor("manure_wait_touching_d").value,
        "off": factor("manure_wait_not_touching_d").value,
    }


def organic_on_broadleaf(scene: Scene, _limit: Limit) -> Values | None:
    """Manure, compost, straw or hay on beds of broadleaf plants, with the weeks of a pot test."""
    crop = scene.case.crop
    broadleaf = crop is None or NOT_BROADLEAF.isdisjoint(crop.traits)
    if not broadleaf or CARRIERS.isdisjoint(scene.organics):
        return None
    return {"weeks": reference_of(scene.case.library).factor("bioassay_weeks").value}


def limy_and_acid_wanted(scene: Scene, limit: Limit) -> Values | None:
    """A lower pH wanted where free lime stands against it.

    Sulfur alone asked for on a sodic soil is a wish for calcium, not for a lower pH.
    """
    wanted = scene.wanted & ACIDIFIERS
    if scene.sodium is not None and scene.sodium.sodium_class == "sodic":
        wanted -= {"sulfur"}
    if not wanted:
        return None
    state, limy = lime_of(scene.case), scene.calcareous is True
    if state.how == "percent" and state.measurement is not None:
        limy = millionths(state.measurement.high) >= limit.value
    return {"instead": Note(f"caution.instead.{_ground_kind(scene)}")} if limy else None


def _ground_kind(scene: Scene) -> str:
    """Whose words to use: those of a lawn, of a field, or of a garden."""
    crop = scene.case.crop
    if crop is None or crop.kind not in (LAWN, *FIELD_KINDS):
        return "garden"
    return LAWN if crop.kind == LAWN else "field"


def gypsum_low_sar(scene: Scene, limit: Limit) -> Values | None:
    """Gypsum thought of where sodium is low."""
    sar = scene.sar
    if sar is None or ("gypsum" not in scene.wanted and "gypsum" not in scene.given):
        return None
    return {"SAR": sar, "limit": limit.printed} if scaled(sar) < limit.value else None


def sodic_and_sodium_salts(scene: Scene, limit: Limit) -> Values | None:
    """Sodium put on a soil that has much already."""
    water = scene.site.irrigation_water
    if not (scene.past & SODIUM_SALTS) and not (water is not None and water.source == "softened"):
        return None
    esp = scene.sodium.esp if scene.sodium else None
    measured = esp.value if esp and esp.how != "from_SAR" else None
    figures = [figure for figure in (scene.sar, measured) if figure is not None]
    return _when(any(scaled(figure) >= limit.value for figure in figures))


def saline_and_fertilizer(scene: Scene, limit: Limit) -> Values | None:
    """Fertilizer, manure or compost on a salty soil; of an estimate the upper end counts."""
    if scene.ece is None or not (scene.spread or scene.wanted & ORGANICS):
        return None
    return {"limit": limit.printed} if scaled(scene.ece.high) >= limit.value else None


def saline_chloride_sensitive(scene: Scene, limit: Limit) -> Values | None:
    """Potash for a plant that chloride hurts, on a soil with some salt."""
    crop = scene.case.crop
    if scene.ece is None or crop is None or "K2O" not in scene.given:
        return None
    if CHLORIDE_TENDER.isdisjoint(crop.traits) and (crop.salt is None or crop.salt.rating != "S"):
        return None
    return _when(scaled(scene.ece.high) >= limit.value)


def deep_digging(scene: Scene, limit: Limit) -> Values | None:
    """Sampling, augering or draining deeper than the limit."""
    case = scene.case
    bottoms = [found.depth_in[1] for found in case.layers if found.depth_in]
    if case.depth_in:
        bottoms.append(case.depth_in[1])
    deep = any(scaled(bottom) > limit.value for bottom in bottoms)
    return {"limit": limit.printed} if deep or "drainage" in scene.given else None


def slope_and_fertilizer(scene: Scene, limit: Limit) -> Values | None:
    """Something broadcast on a steep slope."""
    slope = scene.site.slope_pct
    if slope is None or scaled(slope) <= limit.value or not scene.spread:
        return None
    return {"slope": slope, "how": Note("caution.slope.lawn" if _ground_kind(scene) == LAWN else "caution.slope.soil")}
