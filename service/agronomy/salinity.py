"""Salts: the ECe and its class, what it costs the target, what would grow better, and whether to leach."""

from service.agronomy.amendments import TURF_KINDS
from service.agronomy.ece import EceReading, ece_of
from service.agronomy.findings import Alternative, Salinity, Texture, Word
from service.agronomy.leaching_advice import leaching_advice
from service.agronomy.ledger import Ledger
from service.agronomy.reference import FAR, reference_of, scaled_end
from service.agronomy.salt_effects import alternatives_for, boron_effect, chloride_effect, yield_at
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
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
    _tell_rating(case, reading, ledger)
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
    if not reading.estimated:
        row = ladder.over(reading.low, reading.high)
        ledger.step(
            "salinity_class",
            "salt_rank",
            {"ECe": reading.estimate.value},
            row.name if row else UNKNOWN,
            "",
            *([row] if row else []),
        )
        return row.name if row else UNKNOWN
    row = ladder.at(reading.estimate.value)
    spanned = ladder.spanned(reading.low, reading.high)
    name = row.name if row else UNKNOWN
    if len(spanned) > 1:
        ledger.note("salt.estimate_straddles", classes=tuple(Word("salinity_class", each) for each in spanned))
    if name == ladder.lowest:
        ledger.note("salt.estimate_probably_low")
        name = UNKNOWN
    ledger.step("salinity_class", "salt_rank", {"ECe": reading.estimate.value}, name, "", *([row] if row else []))
    return name


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


def _tell_rating(case: Case, reading: EceReading, ledger: Ledger) -> None:
    """Crops with a rating or an appearance limit only: no yield, but a word."""
    salt = case.crop.salt if case.crop else None
    if salt is None or salt.slope_pct_per_dS_m is not None:
        return
    ledger.use(salt)
    if salt.threshold_dS_m is not None:
        if scaled_end(reading.high, FAR) > scaled(salt.threshold_dS_m):
            ledger.note("salt.over_appearance_limit", limit=Quantity(salt.threshold_dS_m, "dS/m"))
        return
    ladder = reference_of(case.library).ladder(
        "turf_salt_rating" if case.crop and case.crop.kind in TURF_KINDS else "salt_rating"
    )
    row = ladder.named(salt.rating)
    # A sensitive plant begins to suffer somewhere below the first limit: only past it is that certain.
    start = row.lower or row.upper
    if scaled_end(reading.high, FAR) >= scaled_end(start, FAR):
        ledger.use(row)
        ledger.note("salt.rating_reached", rating=Word("salt_rating", salt.rating))
    else:
        ledger.note("salt.rating_only", rating=Word("salt_rating", salt.rating))


def _tell_symptoms(case: Case, name: str, now: float | None, ledger: Ledger) -> None:
    symptoms = case.submission.site.symptoms
    low = name == reference_of(case.library).ladder("salinity").lowest
    if "white_crust" in symptoms:
        ledger.note("salt.crust_but_low" if low else "salt.crust_fits")
    if BURN.intersection(symptoms) and now is not None and now < 100:
        ledger.note("salt.burn_fits")
    _tell_deicing(case, ledger)


def _tell_deicing(case: Case, ledger: Ledger) -> None:
    """A strip salted in winter: what to do in spring, and what to test."""
    if any(past.material == "deicing_salt" for past in case.submission.site.amended):
        depth = reference_of(case.library).factor("deicing_leaching_depth_in")
        ledger.use(depth)
        ledger.note("salt.deicing", depth=case.units.depth(depth.value))


def _alternatives(case: Case, reading: EceReading, now: float | None, ledger: Ledger) -> tuple[Alternative, ...]:
    reference = reference_of(case.library)
    limit = reference.factor("yield_loss_caution_pct")
    if not case.explain or now is None or case.crop is None or scaled(100 - now) < scaled(limit.value):
        return ()
    found = alternatives_for(case, reading.estimate.value, now)[: int(reference.factor("alternatives_shown").value)]
    if found:
        ledger.note("salt.alternatives", ECe=Quantity(significant(reading.estimate.value), "dS/m"))
    return found
