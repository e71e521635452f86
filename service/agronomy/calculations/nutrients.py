"""Nitrogen: what soil and water bring already, and when a season's rate is given to a lawn."""

from dataclasses import replace

from service.agronomy.amendments import TURF_KINDS
from service.agronomy.calculations.bare import bare_case
from service.agronomy.calculations.declaration import Answer, Calculation, Input, given_answer, withheld_answer
from service.agronomy.calculations.given import Given, WrongInput
from service.agronomy.calculations.limits import as_asked
from service.agronomy.caps import enforce
from service.agronomy.conductivity import nitrogen_in_water
from service.agronomy.doses import AREAL
from service.agronomy.findings import Application, Note
from service.agronomy.plot import Plot, prepare_settings
from service.agronomy.spreading import recommend_spread, spread
from service.agronomy.tables import Crop
from service.agronomy.units import Soil

N = "N"
NITRATE = "NO3-N"


def nitrate_credit(given: Given) -> Answer:
    """Nitrogen that the nitrate of a layer holds."""
    density = given.bulk_density()
    layer = Soil(given.inches("depth"), density)
    found = given.units.express(given["NO3_N_mg_kg"], "mg/kg", "g/m2", "soil", NITRATE, NITRATE, layer)
    credit = given.rate(found)
    inputs = {"NO3_N": given["NO3_N_mg_kg"], "depth": layer.thickness_in, "bulk_density": density}
    formula = given.reference.formula("nitrate_credit")
    given.step("nitrate_in_layer", "nitrate_credit", inputs, credit.value, credit.unit, formula)
    given.warn("calc.credit_fine_soil")
    return given_answer(given, {"credit": credit})


def water_nitrate_credit(given: Given) -> Answer:
    """Nitrogen that the nitrate of irrigation water brings."""
    mm = given.mm("applied")
    credit = given.rate(nitrogen_in_water(given["NO3_N_mg_L"], mm))
    inputs = {"NO3_N": given["NO3_N_mg_L"], "water_mm": mm}
    given.step("water_nitrogen", "nwater", inputs, credit.value, credit.unit, given.reference.formula("nwater"))
    given.warn("calc.credit_water_used")
    return given_answer(given, {"credit": credit})


def turf_nitrogen_schedule(given: Given) -> Answer:
    """A season's nitrogen for a lawn in the feeding times that remain, each dose under its cap."""
    plot = _plot(given, _lawn(given))
    dose = next((each for each in plot.setting.fitting(N) if each.base == AREAL and each.row.schedule), None)
    if dose is None:
        raise WrongInput("crop", "no_schedule", "a lawn with feeding times")
    season = given.g_m2("N_rate")
    planned = spread(plot, dose, season, N, given["as_of"], given.ledger)
    text = Note("rec.n_lawn_rest", {"rate": given.rate(planned.total), "season": given["N_rate"], "more": ""})
    advised = recommend_spread(plot, N, text, dose, planned, given.ledger)
    # Yearly caps are for the whole season's rate, also where windows have passed.
    _, held = enforce(plot.case, [replace(advised, base_rate=season)])
    if held:
        return withheld_answer(given, ("applications", "rate", "for_area"), *map(as_asked, held))
    if not planned.whole:
        given.warn("calc.windows_passed")
    if zone_unknown(plot):
        given.warn("calc.zone_unknown")
    doses = tuple(_dose(given, each) for each in advised.applications)
    total = sum(given.units.areal(each.rate) for each in advised.applications)
    return given_answer(given, {"applications": doses, "rate": given.rate(total), "for_area": given.total(total)})


def _dose(given: Given, dose: Application) -> dict[str, object]:
    """One dose, its rate as the interpretation names it."""
    return {
        "when": dose.when,
        "from": dose.from_date,
        "to": dose.to_date,
        "rate": dose.rate,
        "for_area": given.total(given.units.areal(dose.rate)),
        "limit": dose.limit,
        "how": dose.how,
    }


def _lawn(given: Given) -> Crop:
    crop = given.library.crops[given["crop"]]
    if crop.kind not in TURF_KINDS:
        lawns = tuple(each.id for each in given.library.crops.values() if each.kind in TURF_KINDS)
        raise WrongInput("crop", "not_a_lawn", "a lawn", lawns)
    return crop


def _plot(given: Given, crop: Crop) -> Plot:
    case = bare_case(given, crop.id, given["as_of"], given.get("zone"))
    return given.library.index(prepare_settings).plot(case, crop, None, None, None)


def zone_unknown(plot: Plot) -> bool:
    """Whether feeding times hang on the hardiness zone and nobody named one."""
    return not plot.setting.about.zone


NITRATE_CREDIT = Calculation(
    "nitrate_credit",
    "Nitrogen that the nitrate of a soil layer holds.",
    (
        Input("NO3_N_mg_kg", "number", "Nitrate as nitrogen.", like=("NO3-N", "kcl_extract"), example=20),
        Input("depth", "quantity", "Thickness of the layer.", dimension="length", example={"value": 12, "unit": "in"}),
        Input(
            "bulk_density_g_cm3",
            "number",
            "Bulk density; the usual one when left out.",
            False,
            like=("bulk_density", "core"),
            example=1.32,
        ),
    ),
    nitrate_credit,
    {"depth": "depth"},
    ("nitrate_credit", "mass_per_area"),
)
WATER_NITRATE_CREDIT = Calculation(
    "water_nitrate_credit",
    "Nitrogen that irrigation water brings.",
    (
        Input("NO3_N_mg_L", "number", "Nitrate as nitrogen.", like=("NO3-N", "water_sample"), example=20),
        Input(
            "applied", "quantity", "Depth of water applied.", dimension="length", example={"value": 24, "unit": "in"}
        ),
    ),
    water_nitrate_credit,
    formulas=("nwater",),
)
TURF_NITROGEN_SCHEDULE = Calculation(
    "turf_nitrogen_schedule",
    "When to give a season's nitrogen to a lawn, and how much at a time.",
    (
        Input("crop", "crop", "The id of a lawn of the library.", example="tall-fescue-lawn"),
        Input(
            "N_rate",
            "quantity",
            "Nitrogen for the season.",
            dimension="areal_rate",
            example={"value": 3, "unit": "lb/1000 ft2"},
        ),
        Input("area", "quantity", "The lawn.", dimension="area", example={"value": 5000, "unit": "ft2"}),
        Input("as_of", "date", "The first day for a dose.", example="2026-04-20"),
        Input("zone", "text", "Plant hardiness zone.", False, example="6b"),
    ),
    turf_nitrogen_schedule,
)
