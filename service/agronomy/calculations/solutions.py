"""Ions of a water or an extract: sodium adsorption ratio, exchangeable sodium percentage, balance of charge."""

from collections.abc import Mapping
from difflib import get_close_matches

from service.agronomy import ions
from service.agronomy.calculations.declaration import Answer, Calculation, Input, check_possible, given_answer
from service.agronomy.calculations.given import Given, WrongInput, below, rounded
from service.agronomy.quality_limits import Limits
from service.agronomy.sodicity import adjusted_sar, calcium_expected, esp_direct, esp_from_sar
from service.agronomy.sodicity import sar as sodium_ratio
from service.agronomy.submission import Quantity

EXTRACT = "saturated_paste_extract"
NITRATE: Mapping[str, str] = {"NO3": "NO3-N"}
"""Nitrate is balanced as nitrogen, however it is sent: its charge is the same."""
EC_UNIT = "dS/m"


def _ion(given: Given, field: str, analyte: str, quantity: Quantity) -> float:
    """An ion in meq/L, of a size that can be."""
    canonical = NITRATE.get(analyte, analyte)
    value = given.meq_L(field, analyte, quantity, canonical)
    if canonical in NITRATE.values():
        if value < 0:
            raise WrongInput(field, "out_of_range", "0 <= x")
        return value
    check_possible(given.library, (canonical, EXTRACT), value, field)
    return value


def sar(given: Given) -> Answer:
    """SAR from sodium, calcium and magnesium; its adjusted form where bicarbonate and EC are known too."""
    Na, Ca, Mg = (_ion(given, ion, ion, given[ion]) for ion in ("Na", "Ca", "Mg"))
    ratio = sodium_ratio(Na, Ca, Mg)
    given.step("sar", "sar", {"Na": Na, "Ca": Ca, "Mg": Mg}, ratio, "1")
    adjusted = _adjusted(given, Na, Ca, Mg)
    return given_answer(given, {"SAR": rounded(ratio), "SAR_adjusted": adjusted})


def _adjusted(given: Given, Na: float, Ca: float, Mg: float) -> float | None:
    sent = [name for name in ("HCO3", "ECw") if name in given]
    if len(sent) == 1:
        given.warn("calc.adjusted_needs_both")
    if len(sent) < 2:
        return None
    HCO3 = _ion(given, "HCO3", "HCO3", given["HCO3"])
    EC = given.units.convert(given["ECw"].value, given["ECw"].unit, EC_UNIT)
    check_possible(given.library, ("EC", "water_sample"), EC, "ECw")
    formula = given.reference.formula("adj")
    Ca_x = calcium_expected(HCO3, Ca, EC, **formula.coefficients)
    found = adjusted_sar(Na, Ca_x, Mg)
    given.step("calcium_expected", "adj", {"HCO3": HCO3, "Ca": Ca, "EC": EC}, Ca_x, "meq/L", formula)
    given.step("adjusted_sar", "adj", {"Na": Na, "Ca_x": Ca_x, "Mg": Mg}, found, "1", formula)
    return rounded(found)


def esp(given: Given) -> Answer:
    """ESP from exchangeable sodium and CEC, or reckoned from the SAR of the saturation extract."""
    by_exchange = "Na_meq_100g" in given or "CEC_meq_100g" in given
    if by_exchange == ("SAR" in given):
        raise WrongInput("SAR", "one_way", "either SAR, or Na_meq_100g with CEC_meq_100g")
    if by_exchange:
        return _esp_by_exchange(given)
    formula, limit = given.reference.formula("esp_sar"), given.factor("esp_sar_valid_sar_max")
    figures = formula.coefficients
    value = esp_from_sar(given["SAR"], intercept=figures["a"], slope=figures["b"], sar_max=limit.value)
    given.step("esp_from_sar", "esp_sar", {"SAR": given["SAR"]}, value, "%", formula, limit)
    given.warn("sodium.esp_by_line", ESP=rounded(value))
    return given_answer(given, {"ESP_pct": rounded(value)})


def _esp_by_exchange(given: Given) -> Answer:
    for name in ("Na_meq_100g", "CEC_meq_100g"):
        if name not in given:
            raise WrongInput(name, "missing", "exchangeable sodium goes with CEC")
    Na, CEC = given["Na_meq_100g"], given["CEC_meq_100g"]
    value = esp_direct(Na, CEC)
    given.step("esp_direct", "esp_direct", {"Na": Na, "CEC": CEC}, value, "%", given.reference.formula("esp_direct"))
    given.warn("calc.soluble_sodium_off")
    return given_answer(given, {"ESP_pct": rounded(value)})


def ion_balance(given: Given) -> Answer:
    """Sums of cations and anions, their difference and what it says of the analysis."""
    cations = _listed(given, "cations", (*ions.CATIONS,))
    anions = _listed(given, "anions", (*ions.ANIONS, *NITRATE))
    found = ions.ion_balance(given.library.index(Limits.of), cations, anions, given.get("EC_dS_m"))
    for step in found.steps:
        given.step(step.step, step.formula, dict(step.inputs), step.value, step.unit)
    if found.verdict == "incomplete":
        given.warn("calc.balance_incomplete")
    if found.sulfate_by_difference is not None:
        given.warn("calc.sulfate_by_difference", SO4=rounded(found.sulfate_by_difference))
    return given_answer(
        given,
        {
            "cation_sum_meq_L": rounded(found.cation_sum_meq_L),
            "anion_sum_meq_L": rounded(found.anion_sum_meq_L),
            "difference_pct": rounded(found.difference_pct),
            "verdict": found.verdict,
            "cations_per_10_EC": None if found.cations_per_10_ec is None else rounded(found.cations_per_10_ec),
            "anions_per_10_EC": None if found.anions_per_10_ec is None else rounded(found.anions_per_10_ec),
        },
    )


def _listed(given: Given, field: str, known: tuple[str, ...]) -> dict[str, float]:
    """Ions in meq/L by their name in the balance."""
    found: dict[str, float] = {}
    for ion, quantity in given[field].items():
        if ion not in known:
            near = tuple(get_close_matches(ion, known))
            raise WrongInput(below(field, ion), "unknown_ion", f"one of {', '.join(known)}", known, near)
        name = NITRATE.get(ion, ion)
        if name in found:
            raise WrongInput(below(field, ion), "repeated_ion", "nitrate once, as NO3 or as NO3-N")
        found[name] = _ion(given, below(field, ion), ion, quantity)
    return found


SAR = Calculation(
    "sar",
    "Sodium adsorption ratio of a water or a saturation extract, and its adjusted form for a water.",
    (
        Input("Na", "quantity", "Sodium, meq/L or mg/L.", example={"value": 920, "unit": "mg/L"}),
        Input("Ca", "quantity", "Calcium, meq/L or mg/L.", example={"value": 160, "unit": "mg/L"}),
        Input("Mg", "quantity", "Magnesium, meq/L or mg/L.", example={"value": 48, "unit": "mg/L"}),
        Input("HCO3", "quantity", "Bicarbonate, for the adjusted form.", False, example={"value": 244, "unit": "mg/L"}),
        Input(
            "ECw",
            "quantity",
            "EC of the water, for the adjusted form.",
            False,
            dimension="conductivity",
            example={"value": 5, "unit": "dS/m"},
        ),
    ),
    sar,
    {"Na, Ca, Mg": "Na", "Ca + Mg": "Ca", "HCO3, Ca, EC": "HCO3"},
    ("sar", "adj", "me_l"),
)
ESP = Calculation(
    "esp",
    "Exchangeable sodium percentage from SAR, or from exchangeable sodium and CEC.",
    (
        Input("SAR", "number", "SAR of the saturation extract.", False, like=("SAR", EXTRACT), example=13),
        Input("Na_meq_100g", "number", "Exchangeable sodium: extractable less soluble.", False, minimum=0),
        Input("CEC_meq_100g", "number", "Cation exchange capacity.", False, like=("CEC", "displacement")),
    ),
    esp,
    {"exchangeable Na": "Na_meq_100g", "CEC": "CEC_meq_100g"},
    ("esp_sar", "esp_direct"),
)
ION_BALANCE = Calculation(
    "ion_balance",
    "Balance of charge of one water or extract, with the verdict on the analysis.",
    (
        Input(
            "cations",
            "quantities",
            "Ca, Mg, Na, K; meq/L or mg/L.",
            example={
                "Ca": {"value": 8, "unit": "meq/L"},
                "Mg": {"value": 4, "unit": "meq/L"},
                "Na": {"value": 12, "unit": "meq/L"},
                "K": {"value": 0.5, "unit": "meq/L"},
            },
        ),
        Input(
            "anions",
            "quantities",
            "Cl, SO4, HCO3, CO3, NO3-N or NO3; meq/L or mg/L.",
            example={
                "Cl": {"value": 9, "unit": "meq/L"},
                "SO4": {"value": 11, "unit": "meq/L"},
                "HCO3": {"value": 3.5, "unit": "meq/L"},
                "NO3": {"value": 0.7, "unit": "meq/L"},
            },
        ),
        Input("EC_dS_m", "number", "EC of the same solution.", False, like=("EC", EXTRACT), example=2.4),
    ),
    ion_balance,
    formulas=("ion_balance", "ec_cations"),
)
