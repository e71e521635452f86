"""The soil as a body: texture, hydrometer readings, cores of a composite sample."""

from service.agronomy.calculations.declaration import Answer, Calculation, Input, given_answer
from service.agronomy.calculations.given import Given, WrongInput, rounded
from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Word
from service.agronomy.hydrometer import Curves, Reading, particle_sizes
from service.agronomy.quality_limits import Limits
from service.agronomy.sampling import cores_needed as count_cores
from service.agronomy.triangle import Triangle, complete
from service.agronomy.units import scaled

FRACTIONS = ("sand_pct", "silt_pct", "clay_pct")


def texture(given: Given) -> Answer:
    """The class of two or three fractions and the classes near by."""
    shares = [given.get(name) for name in FRACTIONS]
    _check_sum(given)
    return given_answer(given, _classified(given, complete(*shares)))


def _check_sum(given: Given) -> None:
    """Three fractions must add up to 100 nearly: a slip is asked about, not rescaled away."""
    if not all(name in given for name in FRACTIONS):
        return
    limits = given.library.index(Limits.of)
    off = abs(sum(given[name] for name in FRACTIONS) - 100)
    if scaled(off) > scaled(limits.figure("texture_sum", "rescale")):
        raise WrongInput("sand_pct", "sum_not_100", "sand, silt and clay that add up to 100")
    if scaled(off) > scaled(limits.figure("texture_sum", "rounding")):
        given.warn("calc.fractions_rescaled")


def _classified(given: Given, point: tuple[float, float, float]) -> dict[str, object]:
    triangle = given.library.index(Triangle.of)
    name, near = triangle.classify(*point), triangle.near(*point)
    inputs = dict(zip(("sand", "silt", "clay"), point, strict=True))
    rows = [row for row in triangle.rows if row.texture == name]
    given.step("texture_class", "classify", inputs, name, "", *rows)
    if near:
        others = tuple(Word("texture", other) for other in near)
        given.warn("texture.near", texture=Word("texture", name), others=others)
    return {"class": name, "near": near, **dict(zip(FRACTIONS, map(rounded, point), strict=True))}


def hydrometer(given: Given) -> Answer:
    """Sand, silt and clay from the readings, their class, and what each reading saw."""
    readings = [Reading(**reading) for reading in given["readings"]]
    sizes = particle_sizes(
        given.library.index(Curves.of),
        given["procedure"],
        given["dry_mass_g"],
        readings,
        given.get("blank"),
        given.get("calibration_temperature_C"),
        given.get("particle_density_g_cm3"),
    )
    given.ledger.steps.extend(sizes.steps)
    given.warnings.extend(sizes.warnings)
    if "blank" not in given and "calibration_temperature_C" not in given:
        given.warn("calc.readings_not_corrected")
    try:
        classified = _classified(given, (sizes.sand_pct, sizes.silt_pct, sizes.clay_pct))
    except OutOfRange:
        raise OutOfRange("readings", "shares of 0 to 100 after correction") from None
    fractions = tuple(
        {"diameter_um": rounded(seen.diameter_um), "finer_pct": rounded(seen.finer_pct)} for seen in sizes.fractions
    )
    return given_answer(given, {**classified, "fractions": fractions})


def cores_needed(given: Given) -> Answer:
    """The smallest number of cores whose mean is within the error at the confidence asked for."""
    found = count_cores(given["cv_pct"], given["error_pct"], given["confidence_pct"])
    given.ledger.steps.extend(found.steps)
    given.warn("calc.cores_normal")
    return given_answer(given, {"cores": found.cores})


TEXTURE = Calculation(
    "texture",
    "Texture class of sand, silt and clay; two of them are enough.",
    (
        Input(
            "sand_pct", "number", "0.05 to 2 mm, percent of the fine earth.", False, minimum=0, maximum=100, example=40
        ),
        Input("silt_pct", "number", "0.002 to 0.05 mm.", False, minimum=0, maximum=100, example=38),
        Input("clay_pct", "number", "Below 0.002 mm.", False, minimum=0, maximum=100),
    ),
    texture,
    {"sand, silt, clay": "sand_pct"},
)
HYDROMETER = Calculation(
    "hydrometer",
    "Sand, silt and clay from readings of a 152H hydrometer, in two readings or by Stokes' law.",
    (
        Input(
            "dry_mass_g",
            "number",
            "Oven-dry soil in one litre.",
            minimum=0,
            exclusive_minimum=True,
            maximum=200,
            example=50,
        ),
        Input(
            "procedure",
            "word",
            "Two readings (sand early, clay late), or Stokes.",
            words=("two_reading", "stokes"),
            example="two_reading",
        ),
        Input(
            "readings",
            "readings",
            "Two readings, or two and more for Stokes.",
            example=[
                {"minutes": 0.6667, "reading_g_per_L": 25, "temperature_C": 22},
                {"minutes": 120, "reading_g_per_L": 15, "temperature_C": 23},
            ],
        ),
        Input("blank", "number", "Reading in the dispersant alone, g/L.", False),
        Input(
            "calibration_temperature_C",
            "number",
            "Temperature at which the scale needs no correction.",
            False,
            example=19.4,
        ),
        Input("particle_density_g_cm3", "number", "Density of the solids.", False, minimum=0, exclusive_minimum=True),
    ),
    hydrometer,
    {"minutes": "readings", "reading_g_per_L": "readings", "temperature_C": "readings"},
    (
        "two_reading",
        "hydrometer_finer",
        "hydrometer_density",
        "hydrometer_temperature_linear",
        "effective_depth",
        "stokes_diameter",
        "stokes_k",
    ),
)
CORES_NEEDED = Calculation(
    "cores_needed",
    "How many cores a composite sample takes.",
    (
        Input(
            "cv_pct",
            "number",
            "Coefficient of variation between cores.",
            minimum=0,
            exclusive_minimum=True,
            maximum=1000,
            example=50,
        ),
        Input("error_pct", "number", "Error of the mean to be tolerated.", minimum=1, maximum=1000, example=25),
        Input("confidence_pct", "number", "Two-sided confidence.", minimum=50, maximum=99.9, example=95),
    ),
    cores_needed,
    formulas=("cores_needed",),
)
