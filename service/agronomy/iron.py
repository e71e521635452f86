"""Iron on limy soil: which chelate holds at which pH, and yellow leaves where the iron test looks adequate."""

from service.agronomy.amendments import answer, withheld
from service.agronomy.findings import Note, Recommendation
from service.agronomy.ledger import Ledger
from service.agronomy.reaction import Reaction
from service.agronomy.reference import FAR, Reference, reference_of, scaled_end
from service.agronomy.sample import Case
from service.agronomy.tables import FactorRow
from service.agronomy.units import scaled

YELLOW = "yellowing_new_leaves"


def chelate_for(reference: Reference, pH: float, calcareous: bool | None) -> tuple[str, FactorRow]:
    """The weakest chelate that still holds iron in the soil at this pH: edta, dtpa, eddha, or foliar above them all."""
    for name in ("edta", "dtpa"):
        row = reference.factor(f"chelate_{name}_pH_max")
        if scaled(pH) < scaled(row.value) and not calcareous:
            return name, row
    row = reference.factor("chelate_eddha_pH_max")
    return ("eddha" if scaled(pH) <= scaled(row.value) else "foliar"), row


def iron_answer(case: Case, reaction: Reaction) -> Recommendation:
    """Iron asked for, or new leaves yellow: the chelate to use, or that none is needed. Amounts are the label's."""
    if reaction.pH is None:
        return withheld("iron_chelate", "iron_needs_pH")
    reference = reference_of(case.library)
    ledger = Ledger(case.explain)
    enough = _looks_adequate(case, reference, ledger)
    yellow = YELLOW in case.submission.site.symptoms
    if enough and not yellow:
        return answer("none_needed", "iron_chelate", Note("rec.iron_enough"), ledger)
    name, row = chelate_for(reference, reaction.pH, reaction.calcareous)
    ledger.step("chelate_by_pH", "chelate_for", {"pH": reaction.pH, "limit": row.value}, name, "", row)
    code = f"rec.iron_{name}"
    if enough and _locked(reaction, reference):
        code = f"rec.iron_locked_{name}"
    return answer("practice", "iron_chelate", Note(code, {"pH": reaction.pH}), ledger)


def chlorosis(case: Case, reaction: Reaction) -> bool:
    """Yellow new leaves on a soil where lime can lock iron up."""
    yellow = YELLOW in case.submission.site.symptoms
    return yellow and reaction.pH is not None and _locked(reaction, reference_of(case.library))


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
