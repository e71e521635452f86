"""What goes with an amendment, in order: the grade, how to spread it, what must follow, how long to wait, what to test.

Figures are rows of ``factors`` and ``amendment-equivalents``.
"""

from collections.abc import Callable, Mapping

from service.agronomy.amendments import cap_for, standing_turf
from service.agronomy.findings import Note, Recommendation
from service.agronomy.ledger import Ledger
from service.agronomy.lime_state import lime_of
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.units import scaled

BROADLEAF = frozenset(("vegetable", "ornamental", "fruit"))


def steps_for(case: Case, item: Recommendation, ledger: Ledger) -> tuple[Note, ...]:
    """The steps of one amendment, in the order in which they are done."""
    return tuple(STEPS[item.subject](case, item, ledger))


def _gypsum(case: Case, item: Recommendation, ledger: Ledger) -> list[Note]:
    """Grade, spread, wash, wait, test; then what else would do the same work."""
    when = item.applications[0].when.values if item.applications else {}
    found = [Note("how.gypsum_grade"), Note("how.gypsum_on_turf" if standing_turf(case) else "how.gypsum_work_in")]
    if "water" in when:
        found.append(Note("how.gypsum_wash", {"water": when["water"]}))
    found.append(Note("how.gypsum_test_between" if when.get("count", 1) > 1 else "how.gypsum_test_after"))
    return [*found, *_instead_of_gypsum(case, item, ledger)]


def _instead_of_gypsum(case: Case, item: Recommendation, ledger: Ledger) -> list[Note]:
    """Sulfur that frees as much calcium from the soil's own lime: gypsum x 0.186 / purity. Source: molar masses.

    Not where it would break the cap on one dose of sulfur.
    """
    row = reference_of(case.library).equivalents().get("elemental_sulfur")
    if row is None or item.base_rate is None or standing_turf(case) or not lime_of(case).calcareous:
        return []
    pure, cap = item.base_rate * row.mass_per_mass_gypsum, cap_for(case, "sulfur")
    if cap is not None and scaled(pure) > scaled(cap.g_m2):
        return []
    purity = reference_of(case.library).factor("sulfur_purity_default_pct")
    bought = pure / (purity.value / 100)
    shown = case.units.rate(bought)
    inputs = {"gypsum": case.units.rate(item.base_rate), "mass": row.mass_per_mass_gypsum, "purity": purity.value}
    ledger.step("sulfur_instead", "equivalent_amounts", inputs, shown.value, shown.unit, row, purity)
    return [Note("how.sulfur_instead_of_gypsum", {"sulfur": shown, "purity": purity.value})]


def _sulfur(case: Case, _item: Recommendation, ledger: Ledger) -> list[Note]:
    reference = reference_of(case.library)
    purity, months = reference.factor("sulfur_purity_default_pct"), reference.factor("sulfur_repeat_months")
    ledger.use(purity, months)
    return [
        Note("how.sulfur_grade", {"purity": purity.value}),
        Note("how.sulfur_dust"),
        Note("how.sulfur_on_turf" if standing_turf(case) else "how.sulfur_work_in"),
        Note("how.sulfur_apart"),
        Note("how.sulfur_wait", {"months": int(months.value)}),
    ]


def _lime(case: Case, _item: Recommendation, ledger: Ledger) -> list[Note]:
    ledger.use(reference_of(case.library).factor("ecce_default_pct"))
    return [
        Note("how.lime_grade"),
        Note("how.lime_on_turf" if standing_turf(case) else "how.lime_work_in"),
        Note("how.lime_apart"),
        Note("how.lime_test"),
    ]


def _manure(case: Case, _item: Recommendation, ledger: Ledger) -> list[Note]:
    found = [*_pot_test(case, ledger), Note("how.manure_work_in")]
    if case.crop is not None and "edible" in case.crop.traits:
        reference = reference_of(case.library)
        touching, off = reference.factor("manure_wait_touching_d"), reference.factor("manure_wait_not_touching_d")
        ledger.use(touching, off)
        found.append(Note("how.manure_wait", {"touching": int(touching.value), "off": int(off.value)}))
    return [*found, Note("how.organic_test")]


def _compost(case: Case, _item: Recommendation, ledger: Ledger) -> list[Note]:
    low_salt = reference_of(case.library).factor("compost_low_salt_dS_m")
    ledger.use(low_salt)
    return [
        Note("how.compost_salt", {"EC": Quantity(low_salt.value, low_salt.unit)}),
        *_pot_test(case, ledger),
        Note("how.compost_work_in"),
        Note("how.organic_test"),
    ]


def _pot_test(case: Case, ledger: Ledger) -> list[Note]:
    """Weed killers that pass through animals and composting twist broadleaf plants. Sources of ``bioassay_weeks``."""
    if case.crop is None or case.crop.kind not in BROADLEAF:
        return []
    weeks = reference_of(case.library).factor("bioassay_weeks")
    ledger.use(weeks)
    return [Note("how.pot_test_ask"), Note("how.pot_test_sow", {"weeks": int(weeks.value)}), Note("how.pot_test_read")]


STEPS: Mapping[str, Callable[[Case, Recommendation, Ledger], list[Note]]] = {
    "gypsum": _gypsum,
    "sulfur": _sulfur,
    "lime": _lime,
    "manure": _manure,
    "compost": _compost,
}
