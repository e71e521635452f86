"""When fertilizer has to wait: salt in which nothing grows, or sodium nobody tested where the pH is that of sodium.

Plants that cannot grow take up nothing, and fertilizer is salt. Between no growth and a small loss nitrogen goes down
with the growth that is left.
"""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from service.agronomy.findings import Note, Recommendation, Salinity, Sodium
from service.agronomy.ledger import Ledger
from service.agronomy.reaction import Reaction
from service.agronomy.reference import reference_of
from service.agronomy.salt_rating import rating_rung
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.tables import FactorRow
from service.agronomy.units import scaled, significant

FULL_PCT = 100.0


class Growth(NamedTuple):
    """Growth that salt leaves the target, percent, by the least harm that is sure, and the row that says so."""

    percent: float
    row: FactorRow | None = None


UNHARMED = Growth(FULL_PCT)


def growth_left(case: Case, salinity: Salinity | None) -> Growth:
    """What salt leaves of the growth: by the plant's own line, else by the general classes of salty soil.

    An estimated ECe counts by its better end: on an estimate nobody goes without. A grass that has only a rating is
    within it as good as untouched.
    """
    if salinity is None or salinity.ece is None:
        return UNHARMED
    if salinity.relative_yield_pct is not None:
        span = salinity.relative_yield_range
        return Growth(span[1] if span is not None else salinity.relative_yield_pct)
    return UNHARMED if salinity.ece.estimated else _by_class(case, salinity.ece.value)


def _by_class(case: Case, ECe_dS_m: float) -> Growth:
    salt = case.crop.salt if case.crop else None
    factor = reference_of(case.library).factor
    if salt is not None and salt.rating:
        end = rating_rung(case, salt).upper
        if end is None or scaled(ECe_dS_m) <= scaled(end):
            return UNHARMED
    elif salt is not None and salt.threshold_dS_m is not None and scaled(ECe_dS_m) <= scaled(salt.threshold_dS_m):
        return UNHARMED
    if scaled(ECe_dS_m) >= scaled(factor("unknown_tolerance_none_dS_m").value):
        return Growth(0.0, factor("unknown_tolerance_none_dS_m"))
    if scaled(ECe_dS_m) >= scaled(factor("saline_limit_dS_m").value):
        half = factor("unknown_tolerance_share_pct")
        return Growth(half.value, half)
    return UNHARMED


def nitrogen_share(case: Case, left: Growth, ledger: Ledger) -> float:
    """The share of the season's nitrogen that the growth left by salt can use, 1 where the loss is small.

    Where nothing is fed at all, `held_back` says so, and nothing is cut.
    """
    factor = reference_of(case.library).factor
    full, least = factor("fed_in_full_yield_pct"), factor("fed_at_all_yield_pct")
    if not scaled(least.value) <= scaled(left.percent) < scaled(full.value):
        return 1.0
    ledger.use(full, left.row)
    ledger.note("rec.n_more_salt", percent=round(left.percent), more="")
    ledger.step("salt_share", "nitrogen_share", {"growth": left.percent}, round(left.percent / FULL_PCT, 3), "1", full)
    return left.percent / FULL_PCT


def held_back(
    case: Case,
    given: Sequence[Recommendation],
    salinity: Salinity | None,
    sodium: Sodium | None,
    reaction: Reaction,
) -> list[Recommendation]:
    """The recommendations, without any amount and with one firm *do not* where fertilizer has to wait."""
    why = _salt(case, salinity) or _untested_sodium(case, sodium, reaction)
    if why is None or not any(item.kind == "nutrient" for item in given):
        return list(given)
    return [why, *_others(given)]


def _others(given: Iterable[Recommendation]) -> Iterable[Recommendation]:
    return (item for item in given if item.kind != "nutrient")


def _salt(case: Case, salinity: Salinity | None) -> Recommendation | None:
    least = reference_of(case.library).factor("fed_at_all_yield_pct")
    left = growth_left(case, salinity)
    if salinity is None or salinity.ece is None or scaled(left.percent) >= scaled(least.value):
        return None
    values = {"ECe": Quantity(significant(salinity.ece.value), "dS/m")}
    return _do_not(case, Note("rec.no_fertilizer_salt", values), least, left.row)


def _untested_sodium(case: Case, sodium: Sodium | None, reaction: Reaction) -> Recommendation | None:
    line = reference_of(case.library).factor("sodium_suspect_pH")
    if sodium is None or sodium.sodium_class != "unknown" or reaction.pH is None:
        return None
    if scaled(reaction.pH) < scaled(line.value):
        return None
    return _do_not(case, Note("rec.no_fertilizer_sodium", {"pH": reaction.pH, "limit": line.value}), line)


def _do_not(case: Case, text: Note, *rows: FactorRow | None) -> Recommendation:
    ledger = Ledger(case.explain)
    ledger.use(*rows)
    basis = ledger.cited()
    return Recommendation(
        "do_not", "fertilizer", text, sources=basis.sources, verification=basis.verification, table=basis.table
    )
