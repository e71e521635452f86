"""Ratings without rates: a nutrient whose test a fault of the sample makes provisional gets no amount.

A sample taken soon after fertilizing describes the fertilizer; an average of a good and a bad area describes neither.
"""

from collections.abc import Iterable

from service.agronomy.faults import Faults
from service.agronomy.findings import Note, Recommendation, Word
from service.agronomy.nitrogen_credits import NITRATE
from service.agronomy.sample import Case
from service.agronomy.spreading import in_words
from service.agronomy.tested import TESTS

RATED = frozenset(("nutrient", "none_needed"))
BY_NITRATE = frozenset(("vegetable", "forage", "field"))
"""Kinds of target whose nitrogen a nitrate test guides; of the others it is a snapshot."""


def without_rates(case: Case, given: Iterable[Recommendation]) -> list[Recommendation]:
    """The recommendations, those that would rest on a provisional figure being replaced by a word that says so."""
    doubtful = _provisional(case)
    if not doubtful:
        return list(given)
    return [_withheld(item) if item.kind in RATED and _rests_on(case, item, doubtful) else item for item in given]


def _provisional(case: Case) -> frozenset[str]:
    """Analytes whose every trusted figure is provisional."""
    if not case.weakened:
        return frozenset()
    codes = case.library.index(Faults.of).provisional
    weak = {index for index, note in case.weakened.items() if note.code in codes}
    return frozenset(name for name, found in case.by_analyte.items() if weak.issuperset(m.index for m in found))


def _rests_on(case: Case, item: Recommendation, doubtful: frozenset[str]) -> bool:
    if item.subject == "N":
        return case.crop is not None and case.crop.kind in BY_NITRATE and NITRATE in doubtful
    return not doubtful.isdisjoint(TESTS.get(item.subject, ()))


def _withheld(item: Recommendation) -> Recommendation:
    return in_words("practice", item.subject, Note("rec.rate_withheld", {"nutrient": Word("subject", item.subject)}))
