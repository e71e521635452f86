"""Plants of which only a salt rating or a limit of looks has been published: what their soil's salt means for them."""

from service.agronomy.amendments import TURF_KINDS
from service.agronomy.ece import EceReading
from service.agronomy.findings import Word
from service.agronomy.ledger import Ledger
from service.agronomy.reference import FAR, Ladder, reference_of, scaled_end
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.tables import ClassRow, Crop, Library, SaltToleranceRow
from service.agronomy.units import scaled, significant

WELL_ABOVE = "salt.rating_well_above"


def rating_ladder(library: Library, crop: Crop | None) -> Ladder:
    """The ladder a published salt rating is read on: that of turf, or that of other crops."""
    turf = crop is not None and crop.kind in TURF_KINDS
    return reference_of(library).ladder("turf_salt_rating" if turf else "salt_rating")


def rating_rung(case: Case, salt: SaltToleranceRow) -> ClassRow:
    """The class that the target's salt rating stands for."""
    return rating_ladder(case.library, case.crop).named(salt.rating)


def rating_start(rung: ClassRow) -> float:
    """The ECe below which plants of a rating are certainly spared; of the most sensitive, the end of their class."""
    return rung.lower or rung.upper or 0.0


def tell_rating(case: Case, reading: EceReading, ledger: Ledger) -> None:
    """Crops with a rating or an appearance limit only: no yield, but a word, by how far over the limit the soil is."""
    salt = case.crop.salt if case.crop else None
    if salt is None or salt.slope_pct_per_dS_m is not None:
        return
    ledger.use(salt)
    if salt.threshold_dS_m is not None:
        _tell_looks(reading, salt.threshold_dS_m, ledger)
        return
    rung = rating_rung(case, salt)
    ledger.use(rung)
    figures = {
        "rating": Word("salt_rating", salt.rating),
        "start": Quantity(rating_start(rung), "dS/m"),
        "end": Quantity(rung.upper or rating_start(rung), "dS/m"),
        "ECe": Quantity(significant(reading.estimate.value), "dS/m"),
    }
    ledger.note(_place(reading, rung, rating_ladder(case.library, case.crop)), **figures)


def _place(reading: EceReading, rung: ClassRow, ladder: Ladder) -> str:
    """Where the soil stands against a rating; well above it when it is past the end of the next class too."""
    low, high = scaled_end(reading.low, -FAR), scaled_end(reading.high, FAR)
    start, end = scaled(rating_start(rung)), scaled_end(rung.upper, FAR)
    if high < start:
        return "salt.rating_only"
    if low >= end:
        return WELL_ABOVE if low >= _end_of_next(rung, ladder) else "salt.rating_above"
    if low >= start and high < end:
        return "salt.rating_from" if rung.upper is None else "salt.rating_within"
    return "salt.rating_may_reach"


def _end_of_next(rung: ClassRow, ladder: Ladder) -> int:
    rows = [each.row for each in ladder.rungs]
    at = rows.index(rung) + 1
    return scaled_end(rows[at].upper, FAR) if at < len(rows) else FAR


def _tell_looks(reading: EceReading, limit: float, ledger: Ledger) -> None:
    figures = {"limit": Quantity(limit, "dS/m"), "ECe": Quantity(significant(reading.estimate.value), "dS/m")}
    if scaled_end(reading.low, -FAR) > scaled(limit):
        ledger.note("salt.over_appearance_limit", **figures)
    elif scaled_end(reading.high, FAR) > scaled(limit):
        ledger.note("salt.near_appearance_limit", **figures)
