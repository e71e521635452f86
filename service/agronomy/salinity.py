"""Salts: the ECe and its class, what it costs the target, what would grow better, and whether to leach."""

from service.agronomy.amendments import TURF_KINDS
from service.agronomy.borderline import prepare_window, probability_beyond
from service.agronomy.ece import EceReading, ece_of
from service.agronomy.findings import Alternative, Salinity, Texture, Word
from service.agronomy.leaching_advice import leaching_advice
from service.agronomy.ledger import Ledger
from service.agronomy.reference import FAR, Ladder, reference_of, scaled_end
from service.agronomy.salt_effects import (
    alternatives_by_rating,
    alternatives_for,
    boron_effect,
    chloride_effect,
    yield_at,
)
from service.agronomy.salt_rating import tell_rating
from service.agronomy.sample import Case
from service.agronomy.seedlings import tell_seedlings
from service.agronomy.sodium_reading import SODIC, sodium_state
from service.agronomy.submission import Quantity
from service.agronomy.tables import ClassRow
from service.agronomy.units import scaled, significant

UNKNOWN = "unknown"
BURN = frozenset(("leaf_tip_burn", "leaf_edge_burn"))


def assess(case: Case, texture: Texture | None) -> Salinity | None:
    """The salinity of the main layer; ``None`` when nothing sent bears on salts.

    An estimate never reads "no hazard": where the estimated ECe falls in the lowest class, the class is ``unknown``
    and a note says that it is probably low.
    """
    ledger = Ledger(case.explain)
    reading = ece_of(case, texture, ledger)
    chloride_effect(case, ledger)
    boron_effect(case, ledger)
    if reading is None:
        return _without_ece(case, ledger)
    name = _class_of(case, reading, ledger)
    now, span = _yields(case, reading, ledger)
    tell_rating(case, reading, ledger)
    tell_seedlings(case, reading, ledger)
    _tell_symptoms(case, name, now, ledger)
    alternatives = _alternatives(case, reading, now, ledger)
    leaching = leaching_advice(case, reading, now, ledger)
    cited = ledger.cited()
    return Salinity(
        reading.estimate,
        name,
        now,
        span,
        leaching,
        alternatives,
        tuple(ledger.notes),
        tuple(ledger.steps),
        cited.sources,
        cited.verification,
    )


def _without_ece(case: Case, ledger: Ledger) -> Salinity | None:
    """No extract that can give an ECe: say why, when there is something to say."""
    if case.find("EC", "not_stated") is not None:
        ledger.note("salt.method_missing")
    if "white_crust" in case.submission.site.symptoms:
        ledger.note("salt.crust_untested")
    _tell_deicing(case, ledger)
    if not ledger.notes:
        return None
    cited = ledger.cited()
    return Salinity(None, UNKNOWN, notes=tuple(ledger.notes), sources=cited.sources, verification=cited.verification)


def _class_of(case: Case, reading: EceReading, ledger: Ledger) -> str:
    ladder = reference_of(case.library).ladder("salinity")
    if reading.estimated:
        return _class_of_estimate(case, reading, ladder, ledger)
    row = ladder.over(reading.low, reading.high)
    name = row.name if row else UNKNOWN
    ledger.step("salinity_class", "salt_rank", {"ECe": reading.estimate.value}, name, "", *([row] if row else []))
    if row is not None and case.explain:
        _tell_near_class(case, reading, row, ladder, ledger)
    return name


def _class_of_estimate(case: Case, reading: EceReading, ladder: Ladder, ledger: Ledger) -> str:
    """The class of an estimate. The lowest stays ``unknown``: that salt is low takes a measurement to say."""
    row = ladder.at(reading.estimate.value)
    spanned = ladder.spanned(reading.low, reading.high)
    name = row.name if row else UNKNOWN
    if len(spanned) > 1:
        ledger.note("salt.estimate_straddles", classes=tuple(Word("salinity_class", each) for each in spanned))
    if name == ladder.lowest:
        ledger.note("salt.estimate_low_but_tender" if _tender(case, reading) else "salt.estimate_probably_low")
        name = UNKNOWN
    ledger.step("salinity_class", "salt_rank", {"ECe": reading.estimate.value}, name, "", *([row] if row else []))
    return name


def _tender(case: Case, reading: EceReading) -> bool:
    """Whether the target begins to lose within the range of the estimate, however low its class is."""
    salt = case.crop.salt if case.crop else None
    if salt is None or salt.threshold_dS_m is None:
        return False
    return scaled_end(reading.high, FAR) > scaled(salt.threshold_dS_m)


def _tell_near_class(case: Case, reading: EceReading, row: ClassRow, ladder: Ladder, ledger: Ledger) -> None:
    """The neighbouring class, when the method's uncertainty leaves it a fair chance."""
    deviation, value = reading.measurement.uncertainty, reading.estimate.value
    if deviation <= 0 or not reading.measurement.exact:
        return
    window, at = case.library.index(prepare_window), [rung.row for rung in ladder.rungs].index(row)
    for step, limit in ((-1, row.lower), (1, row.upper)):
        if limit is None or not 0 <= at + step < len(ladder.rungs):
            continue
        chance = probability_beyond(value, limit, deviation)
        if window.low <= chance <= window.high:
            other = Word("salinity_class", ladder.rungs[at + step].row.name)
            ledger.note("salt.class_near", limit=Quantity(limit, "dS/m"), other=other, percent=round(100 * chance))


def _yields(case: Case, reading: EceReading, ledger: Ledger) -> tuple[float | None, tuple[float, float] | None]:
    """Relative yield at the value, and over the interval when the ECe is not exact (worst, best)."""
    salt = case.crop.salt if case.crop else None
    value = reading.estimate.value
    now = yield_at(salt, value)
    if salt is None or now is None:
        return None, None
    inputs = {"ECe": value, "threshold": salt.threshold_dS_m, "slope": salt.slope_pct_per_dS_m}
    ledger.step("relative_yield", "mh", inputs, now, "%", salt)
    if reading.low == reading.high:
        return now, None
    best = yield_at(salt, reading.low)
    worst = 0.0 if reading.high == float("inf") else yield_at(salt, reading.high)
    if best is None or worst is None:
        return now, None
    if reading.estimated and worst < now:
        ledger.note("salt.yield_range", worst=worst, best=best, threshold=Quantity(salt.threshold_dS_m or 0.0, "dS/m"))
    return now, (worst, best)


def _tell_symptoms(case: Case, name: str, now: float | None, ledger: Ledger) -> None:
    symptoms = case.submission.site.symptoms
    low = name == reference_of(case.library).ladder("salinity").lowest
    if "white_crust" in symptoms:
        known = "salt.crust_but_low" if low else "salt.crust_fits"
        ledger.note("salt.crust_untested" if name == UNKNOWN else known)
    if BURN.intersection(symptoms) and now is not None and now < 100:
        ledger.note("salt.burn_fits")
    _tell_deicing(case, ledger)


def _tell_deicing(case: Case, ledger: Ledger) -> None:
    """A strip salted in winter: what to do in spring, and what to test. With much sodium, calcium comes first."""
    if not any(past.material == "deicing_salt" for past in case.submission.site.amended):
        return
    sodium = sodium_state(case).name
    if sodium == SODIC:
        ledger.note("salt.deicing_sodic")
        return
    depth = reference_of(case.library).factor("deicing_leaching_depth_in")
    ledger.use(depth)
    code = "salt.deicing" if sodium == UNKNOWN else "salt.deicing_tested"
    ledger.note(code, depth=case.units.depth(depth.value))


def _alternatives(case: Case, reading: EceReading, now: float | None, ledger: Ledger) -> tuple[Alternative, ...]:
    """Plants that would do better: by expected yield, or among lawn grasses by rating where no yield is published."""
    if not case.explain or case.crop is None:
        return ()
    reference, ECe = reference_of(case.library), reading.estimate.value
    shown = int(reference.factor("alternatives_shown").value)
    loss = reference.factor("yield_loss_caution_pct").value
    if now is None and case.crop.kind in TURF_KINDS:
        found = alternatives_by_rating(case, reading.low)[:shown]
    elif now is None:
        # Mixed ground has no yield of its own: what would lose less than is worth a caution, where salt is one.
        salt = case.crop.salt
        if salt is None or salt.threshold_dS_m is None or scaled(ECe) <= scaled(salt.threshold_dS_m):
            return ()
        found = alternatives_for(case, ECe, 100 - loss)[:shown]
    elif scaled(100 - now) >= scaled(loss):
        found = alternatives_for(case, ECe, now)[:shown]
    else:
        return ()
    if found:
        ledger.note("salt.alternatives", ECe=Quantity(significant(ECe), "dS/m"))
    return found
