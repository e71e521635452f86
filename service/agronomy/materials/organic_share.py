"""What manure and compost bring this season, taken off what fertilizers are chosen for; and said.

A ground is fed once: what a layer of manure or compost brings of nitrogen in its first year, of phosphate and of
potash is no longer needed from a bag. How far manure could go is an option where nobody asked for it: then the
fertilizers are whole, and what to leave out is said.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from service.agronomy.findings import Note, Recommendation, SupplyNote, Word
from service.agronomy.ledger import Ledger
from service.agronomy.materials.amendments import Spread, spread_of
from service.agronomy.materials.organic_route import COMPOST, MANURE
from service.agronomy.materials.weights import rate
from service.agronomy.organic_supply import NUTRIENTS, Supply, supply
from service.agronomy.sample import Case

ORGANIC = frozenset((MANURE, COMPOST))
REFUSED = frozenset(("do_not", "none_needed"))
OPTION = "practice"


class Share(NamedTuple):
    """N of the first year, P2O5 and K2O that come with organic materials, g/m2, and what is said of it."""

    grams: Mapping[str, float]
    notes: tuple[SupplyNote, ...]


def share_of_organics(case: Case, recommendations: Sequence[Recommendation]) -> Share:
    """What the recommended layers bring, and what the client puts on by itself of phosphate and potash.

    The nitrogen of what the client puts on is off the recommended nitrogen already, so it is not taken off twice.
    """
    given = _given(case, recommendations)
    total: dict[str, float] = {}
    notes = []
    spreads = [spread for item in recommendations if item.subject in ORGANIC and (spread := spread_of(case, item))]
    kinds = {spread.item.subject for spread in spreads if spread.item.kind != OPTION}
    for spread in spreads:
        brought = {name: spread.rate * share for name, share in spread.brings if name in NUTRIENTS}
        if spread.item.kind == OPTION:
            notes.append(_said(case, "supply.organic_option", spread, brought))
            continue
        known = sum(each.N_first_season or 0.0 for kind, each in given if kind == spread.item.subject)
        brought["N"] = max(brought.get("N", 0.0) - known, 0.0)
        notes.append(_said(case, "supply.organic_brings", spread, brought))
        _add(total, brought)
    for kind, each in given:
        if kind not in kinds:
            _add(total, {"P2O5": each.P2O5 or 0.0, "K2O": each.K2O or 0.0})
    return Share({name: grams for name, grams in total.items() if grams > 0}, tuple(notes))


def _given(case: Case, recommendations: Iterable[Recommendation]) -> list[tuple[str, Supply]]:
    """What the client puts on, by kind; not what the answer speaks against."""
    refused = {item.subject for item in recommendations if item.kind in REFUSED}
    found = []
    for item in case.submission.site.organic_inputs:
        kind = MANURE if item.material.endswith("_manure") else COMPOST
        brought = supply(case, item)
        if brought is not None and kind not in refused:
            found.append((kind, brought))
    return found


def _add(total: dict[str, float], more: Mapping[str, float]) -> None:
    for name, grams in more.items():
        total[name] = total.get(name, 0.0) + grams


def _said(case: Case, code: str, spread: Spread, brought: Mapping[str, float]) -> SupplyNote:
    parts = tuple(
        Note("supply.missing", {"subject": Word("subject", name), "amount": rate(case, grams)})
        for name, grams in brought.items()
        if grams > 0
    )
    ledger = Ledger(case.explain)
    ledger.use(*spread.rows)
    cited = ledger.cited()
    material = Word("product", spread.row.material)
    text = Note(code if parts else "supply.organic_nothing", {"material": material, "brings": parts})
    return SupplyNote("advice", text, (spread.row.material,), cited.sources, cited.verification)
