"""Reclaiming salty and sodic ground as recommendations: drainage, then calcium, then washing, then a new test."""

from collections.abc import Iterable

from service.agronomy.amendments import answer, withheld
from service.agronomy.findings import Application, Leaching, Note, Recommendation, Salinity, Sodium, Texture, Word
from service.agronomy.ground import asked_for, no_way_out
from service.agronomy.leaching_advice import RECLAMATION
from service.agronomy.ledger import Ledger
from service.agronomy.reference import reference_of
from service.agronomy.salt_rating import WELL_ABOVE
from service.agronomy.sample import Case
from service.agronomy.sodium_reading import SODIC
from service.agronomy.units import scaled

PUDDLING = frozenset(("ponding", "crusting", "slow_infiltration"))
WITHHELD, AFTER_CALCIUM = "salt.leaching_withheld", "salt.leaching_waits"
NITRATE = "salt.leach_nitrate"
FIRST_DOSE = "salt.leach_after_gypsum"
DEICING = "salt.deicing"
FULL = 100


def codes(notes: Iterable[Note]) -> frozenset[str]:
    """The message codes of some notes."""
    return frozenset(note.code for note in notes)


def drainage_practice(case: Case, salinity: Salinity | None, sodium: Sodium | None) -> list[Recommendation]:
    """Drain first: where salt or sodium has to go and water is known to have no way out.

    Of a sodic soil that puddles the reading of the signs says the same. Where gypsum is given, the order of the work.
    """
    sodic = sodium is not None and sodium.sodium_class == SODIC
    if sodic and sodium is not None and sodium.gypsum is not None:
        return [answer("practice", "drainage", Note("rec.order_sodic"), Ledger(case.explain))]
    notes = _obstacle_notes(salinity, sodium)
    if not no_way_out(notes) or (sodic and not PUDDLING.isdisjoint(case.submission.site.symptoms)):
        return []
    code = "rec.drain_first_sodium" if sodic else "rec.drain_first_salt"
    return [answer("practice", "drainage", Note(code), Ledger(case.explain))]


def deicing_practice(case: Case, salinity: Salinity | None) -> list[Recommendation]:
    """A strip salted in winter: what the salt results say of it is something to do."""
    said = [] if salinity is None else [note for note in salinity.notes if note.code.startswith(DEICING)]
    return [answer("practice", "irrigation", note, Ledger(case.explain)) for note in said]


def _obstacle_notes(salinity: Salinity | None, sodium: Sodium | None) -> tuple[Note, ...]:
    """The notes that name obstacles, of whatever is called for and withheld."""
    found: tuple[Note, ...] = ()
    if salinity is not None and WITHHELD in codes(salinity.notes):
        found += salinity.notes
    if sodium is not None and "sodium.gypsum_withheld" in codes(sodium.notes):
        found += sodium.notes
    return found


def gypsum_answers(case: Case, sodium: Sodium | None, texture: Texture | None, asked: bool) -> list[Recommendation]:
    """Gypsum: the amount, none needed, not yet and why, or what must be tested first."""
    if sodium is not None and sodium.gypsum is not None:
        return [sodium.gypsum]
    if sodium is None or (sodium.sar is None and sodium.esp is None):
        return [withheld("gypsum", "gypsum_needs_tests")] if asked else []
    ledger = Ledger(case.explain)
    own = next((note for note in sodium.notes if note.code == "sodium.gypsum_own"), None)
    if own is not None:
        return [answer("none_needed", "gypsum", Note("rec.gypsum_own", own.values), ledger)]
    if sodium.sodium_class != "nonsodic":
        return [_first("gypsum", "gypsum_withheld", asked_for(sodium.notes))]
    line = reference_of(case.library).factor("gypsum_useless_below_sar")
    useless = sodium.sar is not None and scaled(sodium.sar) < scaled(line.value)
    ledger.step("gypsum_line", "class", {"SAR": sodium.sar, "line": line.value}, useless, "", line)
    return _not_called_for(sodium, useless, asked, texture, ledger)


def _not_called_for(
    sodium: Sodium, useless: bool, asked: bool, texture: Texture | None, ledger: Ledger
) -> list[Recommendation]:
    figures = {"SAR": sodium.sar}
    if not useless:
        return [answer("not_suited", "gypsum", Note("rec.gypsum_not_yet", figures), ledger)] if asked else []
    if not asked:
        return [answer("none_needed", "gypsum", Note("rec.gypsum_none", figures), ledger)]
    sandy = texture is not None and texture.group == "coarse"
    code = "rec.gypsum_useless_in_sand" if sandy else "rec.gypsum_useless"
    return [answer("do_not", "gypsum", Note(code, figures), ledger)]


def leaching_answers(case: Case, salinity: Salinity | None, sodium: Sodium | None, asked: bool) -> list[Recommendation]:
    """The leaching worked out with the salinity, as a recommendation; or why there is none."""
    if salinity is not None and salinity.leaching is not None:
        return [_leach(salinity, salinity.leaching)]
    if sodium is not None and sodium.sodium_class == SODIC:
        return _sodic_without_amount(case, sodium, asked)
    if salinity is not None and WITHHELD in codes(salinity.notes):
        return [_not_yet("leaching_withheld", asked_for(salinity.notes), asked)]
    share = _share(case, salinity)
    if share is not None:
        return [share]
    return _asked_for_nothing(case, salinity) if asked else []


def _sodic_without_amount(case: Case, sodium: Sodium, asked: bool) -> list[Recommendation]:
    """No washing of a sodic soil but after calcium: with the gypsum where its amount is known, else not yet."""
    if sodium.gypsum is None:
        return [_not_yet("leaching_waits", asked_for(sodium.notes), asked)]
    if not asked:
        return []
    return [answer("practice", "leaching", Note("rec.leaching_with_gypsum"), Ledger(case.explain))]


def _not_yet(why: str, what: tuple[Note, ...], asked: bool) -> Recommendation:
    """Do not wash yet, and what comes first; a reason of the outcome only where somebody asked."""
    found = _first("leaching", why, what)
    if not asked:
        found.reason = None
    return found


def _first(subject: str, why: str, what: tuple[Note, ...]) -> Recommendation:
    """Not yet, and what comes first. What is asked for is worded alike for gypsum and washing, to be asked once."""
    values = {"what": what or (Note("ask.need.esp"),)}
    found = withheld(subject, why, values)
    if found.reason is not None:
        found.reason = found.reason._replace(ask=Note("ask.first", values))
    return found


def hardier_practice(case: Case, salinity: Salinity | None) -> list[Recommendation]:
    """A hardier kind, where the salt is far over what the target stands: by its rating, or half its yield gone."""
    crop = case.crop
    if crop is None or salinity is None or salinity.ece is None or salinity.ece.estimated or "woody" in crop.traits:
        return []
    left = salinity.relative_yield_pct
    row = None if left is None else reference_of(case.library).ladder("yield_loss").at(FULL - left)
    if WELL_ABOVE not in codes(salinity.notes) and (row is None or row.name != "severe"):
        return []
    ledger = Ledger(case.explain)
    ledger.use(crop.salt, row)
    return [answer("practice", "crop_choice", Note("rec.choose_hardier", {"crop": Word("crop", crop.id)}), ledger)]


def _share(case: Case, salinity: Salinity | None) -> Recommendation | None:
    """The share of the water that must drain, where salt is over what the target bears and no season is known."""
    note = next((each for each in salinity.notes if each.code == "salt.leaching_share"), None) if salinity else None
    if salinity is None or note is None:
        return None
    code = "rec.leaching_share_nitrate" if NITRATE in codes(salinity.notes) else "rec.leaching_share"
    return answer("practice", "irrigation", Note(code, note.values), _with(case, salinity))


def _with(case: Case, salinity: Salinity) -> Ledger:
    ledger = Ledger(case.explain)
    ledger.steps = list(salinity.steps)
    ledger.given = (salinity.sources, salinity.verification)
    return ledger


def _asked_for_nothing(case: Case, salinity: Salinity | None) -> list[Recommendation]:
    """Leaching asked for and not called for."""
    if salinity is None or salinity.ece is None:
        return [withheld("leaching", "leaching_needs_ece")]
    if salinity.ece.estimated:
        return [withheld("leaching", "leaching_needs_paste")]
    left, said = salinity.relative_yield_pct, codes(salinity.notes)
    if left is not None and scaled(left) < scaled(FULL):
        text = Note("rec.leaching_little", {"loss": round(FULL - left, 1)})
    elif said & {"salt.rating_above", "salt.rating_well_above", "salt.rating_within", "salt.rating_may_reach"}:
        text = Note("rec.leaching_watch", {"ECe": salinity.ece.value})
    else:
        text = Note("rec.leaching_none", {"ECe": salinity.ece.value})
    return [answer("none_needed", "leaching", text, _with(case, salinity))]


def _leach(salinity: Salinity, leaching: Leaching) -> Recommendation:
    """Washing out is an amount of water; the yearly share is a way of irrigating, told in its text."""
    said, once = codes(leaching.conditions), leaching.kind == RECLAMATION
    code = f"rec.leaching_{'after_gypsum' if FIRST_DOSE in said else leaching.kind}"
    code += "" if leaching.volume is None else "_area"
    values = {"depth": leaching.depth, "volume": leaching.volume}
    nitrate = next((note for note in leaching.conditions if note.code == NITRATE), None)
    if nitrate is not None:
        code, values = f"{code}_nitrate", {**values, "nitrate": nitrate.values["value"]}
    when = Note("when.leach_after_gypsum" if FIRST_DOSE in said else "when.leach_in_turns")
    return Recommendation(
        "water" if once else "practice",
        "leaching" if once else "irrigation",
        Note(code, values),
        rate=leaching.depth if once else None,
        for_area=leaching.volume if once else None,
        applications=(Application(when, leaching.depth),) if once else (),
        because=salinity.steps,
        sources=salinity.sources,
        verification=salinity.verification,
    )
