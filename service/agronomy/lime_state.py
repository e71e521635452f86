"""Free lime of the main layer: percent or fizz, and whether the soil counts as calcareous."""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy.reference import FAR, reference_of, scaled_end
from service.agronomy.sample import Case, Measurement
from service.agronomy.tables import ClassRow, FactorRow, Library
from service.agronomy.units import scaled

LABORATORY_PH = ("saturated_paste", "water_1_1", "water_1_2", "water_1_5", "not_stated")
"""pH methods whose limits are those of water pH. Calcium chloride reads lower; kits and probes are observations."""
PERCENT_METHODS = ("calcimeter", "acid_neutralization", "not_stated")
FIZZ_METHODS = ("acid_fizz", "vinegar_fizz")
FIZZ_LIMY = frozenset(("slight", "moderate", "strong", "violent"))


class LimeState(NamedTuple):
    """What is known of free lime.

    ``calcareous``: True, False, or ``None`` when nothing sent can tell. ``word``: none, low, medium, high, unknown.
    ``how``: percent, fizz, pH (too acid for lime to last) or unknown. ``row`` is the class or figure that decided.
    """

    calcareous: bool | None
    word: str
    percent: float | None
    how: str
    measurement: Measurement | None = None
    row: ClassRow | FactorRow | None = None


def lime_of(case: Case) -> LimeState:
    """Free lime from the calcimeter, else from the fizz, else from a pH too low for lime to last."""
    percent = case.find("lime", *PERCENT_METHODS)
    if percent is not None and percent.text is None:
        return _by_percent(case, percent)
    fizz = case.find("lime", *FIZZ_METHODS)
    if fizz is not None and fizz.text is not None:
        return _by_fizz(case, fizz)
    if case.submission.site.observations.get("vinegar_fizz") in FIZZ_LIMY:
        return LimeState(True, "unknown", None, "fizz")
    pH = case.find("pH", *LABORATORY_PH)
    possible = reference_of(case.library).factor("lime_unknown_ask_pH")
    if pH is not None and scaled_end(pH.high, FAR) < scaled(possible.value):
        return LimeState(False, "unknown", None, "pH", pH, possible)
    return LimeState(None, "unknown", None, "unknown")


def _by_percent(case: Case, percent: Measurement) -> LimeState:
    reference = reference_of(case.library)
    ladder, limit = reference.ladder("free_lime"), reference.factor("free_lime_threshold_pct")
    row = ladder.over(percent.low, percent.high)
    calcareous: bool | None = None
    if scaled_end(percent.low, FAR) >= scaled(limit.value):
        calcareous = True
    elif scaled_end(percent.high, FAR) <= scaled(limit.value):
        calcareous = False
    return LimeState(calcareous, row.name if row else "unknown", percent.value, "percent", percent, row or limit)


def _by_fizz(case: Case, fizz: Measurement) -> LimeState:
    word = fizz.text or "unknown"
    calcareous: bool | None = None
    if word in FIZZ_LIMY:
        # Vinegar is too weak to tell little lime from none, but what it shows is there.
        calcareous = True
    elif word == "none" and fizz.method == "acid_fizz":
        calcareous = False
    row = None if fizz.method != "acid_fizz" else case.library.index(classes_by_fizz).get(word)
    return LimeState(calcareous, row.name if row else "unknown", None, "fizz", fizz, row)


def classes_by_fizz(library: Library) -> Mapping[str, ClassRow]:
    """Fizz word -> class of free lime, as far as the table names one."""
    rows = library.rows("classes", ClassRow)
    return {word: row for row in rows if row.ladder == "free_lime" for word in row.words}
