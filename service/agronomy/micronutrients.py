"""Zinc, iron, manganese, copper and boron: the sentence for each outcome, and where a soil dressing cannot work."""

from typing import Any

from service.agronomy.findings import Note, Recommendation
from service.agronomy.ledger import Ledger
from service.agronomy.lime_state import LABORATORY_PH
from service.agronomy.plot import Plot
from service.agronomy.reference import reference_of
from service.agronomy.spreading import in_words
from service.agronomy.submission import Quantity
from service.agronomy.tested import ENOUGH, Answer, Tested, recommend_tested
from service.agronomy.units import GRAMS_PER_LB, scaled

B = "B"
TOO_MUCH = frozenset(("high", "very_high", "excessive", "toxic"))
YELLOW = "yellowing_new_leaves"


def micronutrient_words(tested: Tested, outcome: str) -> str:
    """The sentence about zinc, manganese or copper."""
    name = tested.nutrient.lower()
    if outcome == "none":
        return "rec.micro_none_needed"
    if outcome == "no_rate" and name == "zn" and tested.plot.setting.crop.kind == "lawn":
        return "rec.zn_lawn"
    return f"rec.{name}_needed" if outcome == "needed" else f"rec.{name}_no_rate"


def recommend_foliar_zinc(plot: Plot, tested: Tested | None) -> Answer | None:
    """Zinc for trees on limy soil, where zinc on the ground is locked up: on the leaves, every spring.

    Pecans always (tamu-pecan-home); other fruit trees when the test is low (csu-7612). ``None`` for everything else.
    """
    crop = plot.setting.crop
    if "tree" not in crop.traits or crop.kind != "fruit" or not locks_iron(plot):
        return None
    reference = reference_of(plot.case.library)
    ledger = Ledger(plot.case.explain)
    if PECAN in crop.traits:
        if plot.setting.stage in TO_PLANT:
            return None
        ledger.use(reference.factor("pecan_zinc_sulfate_lb_in_100_gal"), reference.factor("pecan_zinc_sprays_least"))
        return Answer(_foliar("nutrient", Note(_pecan_code(plot), _pecan_values(plot)), ledger))
    if tested is None or tested.finding.rating in ENOUGH:
        return None
    ledger.use(reference.factor("fruit_tree_zinc_sprays_a_year"))
    recommendation = _foliar("practice", Note("rec.zn_foliar_tree", tested.values()), ledger)
    recommendation.calibration = tested.finding.calibration
    return Answer(recommendation)


PECAN = "zinc_foliar"
"""Trait of trees that are sprayed with zinc every year wherever the soil is limy."""
TO_PLANT = frozenset(("planning", "planting", "newly_planted"))
GALLONS = 100.0


def _pecan_code(plot: Plot) -> str:
    """A few trees are sprayed from a hand sprayer, an orchard from a tank."""
    return "rec.zn_foliar_pecan_orchard" if plot.setting.about.use in ("market", "field") else "rec.zn_foliar_pecan"


def _pecan_values(plot: Plot) -> dict[str, Any]:
    reference = reference_of(plot.case.library)
    tank = reference.factor("pecan_zinc_sulfate_lb_in_100_gal")
    return {
        "amount": plot.case.units.mass(tank.value * GRAMS_PER_LB),
        "water": Quantity(GALLONS, "gal"),
        "spoons": int(reference.factor("pecan_zinc_sulfate_tsp_in_1_gal").value),
        "times": int(reference.factor("pecan_zinc_sprays_least").value),
    }


def _foliar(kind: str, text: Note, ledger: Ledger) -> Recommendation:
    basis = ledger.cited()
    return Recommendation(kind, "Zn", text, sources=basis.sources, verification=basis.verification, in_full=True)


def iron_words(tested: Tested, outcome: str) -> str:
    """The sentence about iron: iron sulfate on limy soil is fixed within days; which chelate holds is told elsewhere.

    An adequate test does not rule out chlorosis where lime locks the iron up.
    """
    limy = locks_iron(tested.plot)
    if outcome == "none":
        yellow = YELLOW in tested.plot.case.submission.site.symptoms
        return "rec.fe_adequate_but_locked" if limy and yellow else "rec.micro_none_needed"
    name = "rec.fe_watch" if tested.finding.rating == "medium" else "rec.fe_low"
    return f"{name}_limy" if limy else name


def locks_iron(plot: Plot) -> bool:
    """Whether lime or a high pH makes iron spread on the soil useless."""
    if plot.setting.calcareous:
        return True
    pH = plot.case.find("pH", *LABORATORY_PH)
    line = reference_of(plot.case.library).factor("chlorosis_pH")
    return pH is not None and scaled(pH.low) >= scaled(line.value)


def boron_words(tested: Tested, outcome: str) -> str:
    """The sentence about boron."""
    if outcome == "none":
        return "rec.b_do_not" if tested.finding.rating in TOO_MUCH else "rec.b_none_needed"
    return "rec.b_needed" if outcome == "needed" else "rec.b_no_rate"


def recommend_boron(plot: Plot, tested: Tested | None) -> Answer | None:
    """Boron only after a low soil test and never when the water brings it; any amount is read by a person.

    Sources of the limits: the factors ``boron_water_mg_L`` and the classes of the calibration.
    """
    asked = "boron" in plot.case.submission.site.requests
    if tested is None:
        return Answer(in_words("do_not", B, Note("rec.b_do_not_untested"))) if asked else None
    answer = recommend_tested(tested, boron_words)
    water = plot.case.find_water(B)
    line = reference_of(plot.case.library).factor("boron_water_mg_L")
    if answer.recommendation.kind == "nutrient" and water is not None and scaled(water.high) >= scaled(line.value):
        ledger = Ledger(plot.case.explain)
        ledger.use(line)
        values = {"limit": Quantity(line.value, line.unit), "value": Quantity(water.low, water.unit)}
        return Answer(_refused(Note("rec.b_do_not_water", values), ledger))
    if answer.recommendation.text.code == "rec.b_do_not":
        answer.recommendation.kind = "do_not"
    return answer


def _refused(text: Note, ledger: Ledger) -> Recommendation:
    basis = ledger.cited()
    return Recommendation("do_not", B, text, sources=basis.sources, verification=basis.verification)
