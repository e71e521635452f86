"""Reaction: pH and its class, free lime, and what both allow the target."""

from dataclasses import dataclass

from service.agronomy.findings import Note, Step, Texture, Word
from service.agronomy.ledger import Ledger
from service.agronomy.lime_state import LABORATORY_PH, LimeState, lime_of
from service.agronomy.reference import FAR, reference_of, scaled_end
from service.agronomy.sample import Case, Measurement
from service.agronomy.units import scaled

UNKNOWN = "unknown"


@dataclass(slots=True)
class Reaction:
    """pH and lime of the main layer.

    Attributes:
        pH: water pH, or ``None`` when none was measured by a laboratory method or it is only an interval.
        method: how the pH was measured.
        pH_class: word of the pH ladder, or ``unknown``.
        lime: class of free lime (none, low, medium, high) or ``unknown``.
        lime_pct: free lime, % CaCO3, when measured as a figure.
        calcareous: True, False, or ``None`` when nothing sent can tell.
        lime_how: percent, fizz, pH or unknown.
    """

    pH: float | None
    method: str | None
    pH_class: str
    lime: str
    lime_pct: float | None
    calcareous: bool | None
    lime_how: str = UNKNOWN
    notes: tuple[Note, ...] = ()
    steps: tuple[Step, ...] = ()
    sources: tuple[str, ...] = ()
    verification: str | None = None


def assess(case: Case, texture: Texture | None) -> Reaction:  # noqa: ARG001 - the path hands texture to every step
    """The reaction of the main layer. Kits and probes are observations and decide nothing here."""
    ledger = Ledger(case.explain)
    pH = case.find("pH", *LABORATORY_PH)
    name = _pH_class(case, pH, ledger)
    lime = lime_of(case)
    _tell_lime(case, pH, lime, ledger)
    _tell_crop(case, pH, lime, ledger)
    cited = ledger.cited()
    return Reaction(
        pH.value if pH else None,
        pH.method if pH else None,
        name,
        lime.word,
        lime.percent,
        lime.calcareous,
        lime.how,
        tuple(ledger.notes),
        tuple(ledger.steps),
        cited.sources,
        cited.verification,
    )


def _pH_class(case: Case, pH: Measurement | None, ledger: Ledger) -> str:
    if pH is None:
        if case.find("pH", "cacl2") is not None:
            ledger.note("reaction.calcium_chloride_pH")
        return UNKNOWN
    row = reference_of(case.library).ladder("pH").over(pH.low, pH.high)
    if row is None:
        return UNKNOWN
    ledger.step("pH_class", "pH_class", {"pH": pH.value, "method": Word("method", pH.method)}, row.name, "", row)
    return row.name


def _tell_lime(case: Case, pH: Measurement | None, lime: LimeState, ledger: Ledger) -> None:
    ledger.use(lime.row)
    if lime.how == "percent" and lime.percent is not None:
        ledger.note("reaction.lime_percent", lime=lime.percent, word=Word("lime", lime.word))
    elif lime.how == "fizz" and lime.measurement is not None and lime.measurement.text:
        ledger.note("reaction.lime_fizz", fizz=Word("fizz", lime.measurement.text))
    elif lime.how == UNKNOWN and pH is not None:
        likely = scaled(reference_of(case.library).factor("lime_unknown_acidify_pH_max").value)
        ledger.note("reaction.lime_likely" if scaled_end(pH.low, -FAR) >= likely else "reaction.lime_untested")


def _tell_crop(case: Case, pH: Measurement | None, lime: LimeState, ledger: Ledger) -> None:
    crop = case.crop
    if crop is None:
        return
    if "lime_intolerant" in crop.traits and lime.calcareous is not False and (lime.calcareous or _limy(case, pH)):
        ledger.use(crop.pH_source)
        ledger.note("reaction.lime_intolerant", crop=Word("crop", crop.id))
        return
    if pH is None or crop.pH_range is None:
        return
    ledger.use(crop.pH_source)
    low, high = crop.pH_range
    code = "reaction.pH_fits"
    if scaled_end(pH.low, -FAR) > scaled(high):
        code = "reaction.pH_above"
    elif scaled_end(pH.high, FAR) < scaled(low):
        code = "reaction.pH_below"
    ledger.note(code, crop=Word("crop", crop.id), low=low, high=high)


def _limy(case: Case, pH: Measurement | None) -> bool:
    likely = scaled(reference_of(case.library).factor("lime_unknown_acidify_pH_max").value)
    return pH is not None and scaled_end(pH.low, -FAR) >= likely
