"""Iron: nothing without yellow new leaves; then roots and water first, a spray on turf, a chelate elsewhere."""

from collections.abc import Mapping

from service.agronomy.amendments import TURF_KINDS, answer, withheld
from service.agronomy.findings import Note, Recommendation
from service.agronomy.ledger import Ledger
from service.agronomy.reaction import Reaction
from service.agronomy.reference import FAR, Reference, reference_of, scaled_end
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.tables import FactorRow, Library, LimitRow
from service.agronomy.units import Units, scaled

YELLOW = "yellowing_new_leaves"
TENDER = frozenset(("iron_inefficient", "lime_intolerant"))
"""Traits of plants that are quick to lack iron."""
PRODUCT, FOLIAR = "iron", "foliar"


def chelate_for(reference: Reference, pH: float, calcareous: bool | None) -> tuple[str, FactorRow]:
    """The weakest chelate that still holds iron in the soil at this pH: edta, dtpa, eddha, or foliar above them all."""
    for name in ("edta", "dtpa"):
        row = reference.factor(f"chelate_{name}_pH_max")
        if scaled(pH) < scaled(row.value) and not calcareous:
            return name, row
    row = reference.factor("chelate_eddha_pH_max")
    return ("eddha" if scaled(pH) <= scaled(row.value) else "foliar"), row


def iron_answer(case: Case, reaction: Reaction) -> Recommendation:
    """Iron asked for, or new leaves yellow: how to give it, or that none is needed. Amounts are the label's.

    Without yellow new leaves no iron is sold: a low test on a plant that is quick to lack iron is watched.
    """
    if reaction.pH is None:
        return withheld("iron_chelate", "iron_needs_pH")
    reference, ledger = reference_of(case.library), Ledger(case.explain)
    enough = _looks_adequate(case, reference, ledger)
    line = short_of_iron(case)
    if not yellow(case) and line is None:
        return _without_signs(case, enough, ledger)
    if case.crop is not None and case.crop.kind in TURF_KINDS:
        return _turf(case, reaction, ledger)
    name, row = chelate_for(reference, reaction.pH, reaction.calcareous)
    ledger.step("chelate_by_pH", "chelate_for", {"pH": reaction.pH, "limit": row.value}, name, "", row)
    code = f"rec.iron_{name}"
    if not yellow(case):
        ledger.use(line)
        code = f"rec.iron_low_{name}"
    elif enough and _locked(reaction, reference):
        code = f"rec.iron_locked_{name}"
    return answer("practice", "iron_chelate", Note(code, {"pH": reaction.pH}), ledger)


def yellow(case: Case) -> bool:
    """Whether yellow new leaves were reported, the sign of iron shortage."""
    return YELLOW in case.submission.site.symptoms


def chlorosis(case: Case, reaction: Reaction) -> bool:
    """Yellow new leaves on a soil where lime or pH can lock iron up."""
    return yellow(case) and reaction.pH is not None and _locked(reaction, reference_of(case.library))


def told_elsewhere(case: Case, reaction: Reaction) -> bool:
    """Whether `iron_answer` speaks on iron here, so that nothing else should."""
    asked = "iron" in case.submission.site.requests
    return asked or chlorosis(case, reaction) or (reaction.pH is not None and short_of_iron(case) is not None)


def short_of_iron(case: Case) -> FactorRow | None:
    """The line, where the iron test lies wholly below it and the plant is quick to lack iron."""
    iron, line = case.find("Fe", "dtpa"), reference_of(case.library).factor("iron_dtpa_low_mg_kg")
    tender = case.crop is not None and not TENDER.isdisjoint(case.crop.traits)
    return line if tender and iron is not None and scaled_end(iron.high, FAR) < scaled(line.value) else None


def _locked(reaction: Reaction, reference: Reference) -> bool:
    line = reference.factor("chlorosis_pH")
    return bool(reaction.calcareous) or (reaction.pH is not None and scaled(reaction.pH) >= scaled(line.value))


def _looks_adequate(case: Case, reference: Reference, ledger: Ledger) -> bool:
    iron, line = case.find("Fe", "dtpa"), reference.factor("iron_dtpa_adequate_mg_kg")
    if iron is None:
        return False
    adequate = scaled_end(iron.low, -FAR) >= scaled(line.value)
    ledger.step("iron_test", "iron_answer", {"Fe": iron.value, "line": line.value}, adequate, "", line)
    return adequate


def _without_signs(case: Case, enough: bool, ledger: Ledger) -> Recommendation:
    if enough:
        return answer("none_needed", "iron_chelate", Note("rec.iron_enough"), ledger)
    code = "rec.iron_no_signs" if case.find("Fe", "dtpa") is None else "rec.iron_watch"
    return answer("none_needed", "iron_chelate", Note(code), ledger)


def foliar_limits(library: Library) -> Mapping[str, LimitRow]:
    """Subject -> the cap on one iron spray on turf, prepared once."""
    return {row.subject: row for row in library.rows("application-limits", LimitRow) if row.when == FOLIAR}


def _turf(case: Case, reaction: Reaction, ledger: Ledger) -> Recommendation:
    """Turf is sprayed: ferrous sulfate on the leaves, under the printed cap, acts in days and needs no soil.

    Sources: application-limits fe_product_turf (S-UA-TURF) and fe_foliar_turf (S-UNL-IRON).
    """
    limits = case.library.index(foliar_limits)
    cap = limits[PRODUCT]
    most = Quantity(cap.maximum, cap.unit)
    if case.units.system == "metric":
        most = case.units.rate(case.library.index(Units.of).areal(most))
    ledger.use(*limits.values())
    pale = _short_of_nitrogen(case, ledger)
    code = "rec.iron_turf_nitrogen" if pale is not None else "rec.iron_turf"
    if not yellow(case):
        code = "rec.iron_turf_low"
    return answer("practice", "iron_chelate", Note(code, {"pH": reaction.pH, "most": most, "nitrate": pale}), ledger)


def _short_of_nitrogen(case: Case, ledger: Ledger) -> Quantity | None:
    """The nitrate test, where it is so low that pale grass may lack nitrogen and not iron."""
    line, tested = reference_of(case.library).factor("nitrate_pale_mg_kg"), case.find("NO3-N")
    if tested is None or tested.value is None or scaled(tested.value) >= scaled(line.value):
        return None
    ledger.use(line)
    return Quantity(tested.value, tested.unit)
