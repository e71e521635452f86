"""Manure and compost: whether, how deep, what they bring; and when not, because of salt, phosphorus or food safety.

The salt of the soil comes first, then its phosphorus, then what is enough already. What nobody tested is said, never
assumed to be all right.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta
from typing import Any, NamedTuple

from service.agronomy.findings import Finding, Note, Recommendation, Salinity, Word
from service.agronomy.health import well_at_risk
from service.agronomy.ledger import Ledger
from service.agronomy.materials import organic_route
from service.agronomy.olsen import OLSEN, REMOVAL_ONLY, STOP, over_olsen_line
from service.agronomy.organic_supply import Supply, prepare_organics, supply
from service.agronomy.phosphorus import MORE_THAN_ENOUGH, OVERFULL
from service.agronomy.reference import cite, reference_of
from service.agronomy.sample import Case
from service.agronomy.submission import OrganicInput, Quantity
from service.agronomy.tables import Library, LimitRow, Row
from service.agronomy.units import METRES_PER_FOOT, METRES_PER_INCH, Units, scaled

COMPOST, MANURE, MULCH = "compost", "manure", "mulch"
KINDS: Mapping[str, str] = {
    "compost": COMPOST,
    "biosolids": COMPOST,
    "peat": MULCH,
    "leaves": MULCH,
    "straw": MULCH,
    "wood_chips": MULCH,
}
"""What the words for organic inputs are; every other word ends in ``_manure``."""
TO_TILL = frozenset(("planning", "planting", "seeding", "sodding"))
YARD = 3 * METRES_PER_FOOT


class Ground(NamedTuple):
    """What decides about organic materials: salt and phosphorus of the soil, each with the row that judged it."""

    case: Case
    ece: float | None
    salty: bool
    phosphorus: str  # unknown, enough_room, high, overfull
    phosphorus_value: object
    rich: bool
    tilled: bool
    turf: bool
    edible: bool
    rows: tuple[Row, ...]
    sources: tuple[str, ...]


def recommend(
    case: Case, findings: Iterable[Finding], salinity: Salinity | None, plan: Sequence[Recommendation] = ()
) -> list[Recommendation]:
    """Answers about compost, manure and organic sources: what was asked for, and what is put on already.

    Args:
        findings: the ratings; phosphorus and organic matter are read from them.
        salinity: for the ECe, measured or estimated.
        plan: what the nutrients step asks for; manure and compost are measured out against it.
    """
    site, condition = case.submission.site, case.submission.target.condition
    asked = frozenset(site.requests)
    organic_only = "organic_only" in asked or condition.organic_only is True
    if case.crop is None or not (asked & {COMPOST, MANURE} or site.organic_inputs or organic_only):
        return []
    ground = _ground(case, {finding.analyte: finding for finding in findings if finding.status == "rated"}, salinity)
    inputs: dict[str, list[OrganicInput]] = {}
    for item in site.organic_inputs:
        inputs.setdefault(KINDS.get(item.material, MANURE), []).append(item)
    wanted = [kind for kind in (COMPOST, MANURE) if kind in asked or kind in inputs]
    answers = [_answer(ground, kind, inputs.get(kind, [])) for kind in wanted]
    for place, kind in enumerate(wanted):
        answers[place : place + 1], more = _measured_out(answers[place], ground, kind, inputs.get(kind, []), plan)
        answers.extend(more)
    if MANURE in wanted and ground.edible and answers[wanted.index(MANURE)].kind not in ("do_not", "none_needed"):
        answers.append(_wait(ground))
    for kind in wanted:
        answers.extend(told for item in inputs.get(kind, ()) if (told := _supplied(ground, item)) is not None)
    if MULCH in inputs:
        answers.append(_mulch(ground))
    if organic_only and not _full_of_nitrate(case):
        answers.append(_organic_only(ground))
        if MANURE not in wanted:
            answers.extend(_if_manure(ground, plan))
    return answers


def _measured_out(
    answer: Recommendation, ground: Ground, kind: str, given: list[OrganicInput], plan: Sequence[Recommendation]
) -> tuple[list[Recommendation], list[Recommendation]]:
    """The answer where nothing speaks against the material, and after it how much against the plan's N and P2O5."""
    if answer.text.code != f"rec.{kind}_welcome":
        return [answer], []
    fed = organic_route.feeding(ground.case, kind, given, plan)
    if kind == COMPOST:
        yearly = ground.case.library.index(prepare_organic_limits)["every_year"]
        return [answer], [item for item in (organic_route.layer_brings(fed, yearly.maximum),) if item is not None]
    if organic_route.phosphate_met(fed):
        return [_told(ground, "none_needed", kind, "p_enough", {"P": ground.phosphorus_value})], []
    measured = organic_route.amount(fed)
    return (measured[:1], measured[1:]) if measured else ([answer], [])


def _if_manure(ground: Ground, plan: Sequence[Recommendation]) -> list[Recommendation]:
    """For who wants organic sources only: how far manure would go, and the waiting time; nothing where it is barred."""
    if _answer(ground, MANURE, []).text.code != "rec.manure_welcome":
        return []
    measured = organic_route.amount(organic_route.feeding(ground.case, MANURE, [], plan), "practice")
    return [*measured, _wait(ground)] if measured and ground.edible else measured


def _ground(case: Case, rated: Mapping[str, Finding], salinity: Salinity | None) -> Ground:
    reference = reference_of(case.library)
    crop = case.crop
    ece = salinity.ece.value if salinity is not None and salinity.ece is not None else None
    line = reference.factor("compost_none_above_ece_dS_m")
    word, row = _phosphorus(case, rated.get("P"))
    organic_matter = rated.get("OM")
    kind = crop.kind if crop is not None else ""
    traits = crop.traits if crop is not None else frozenset()
    bed = kind in ("vegetable", "field", "ornamental") and "tree" not in traits
    used = [rated[analyte] for analyte in ("P", "OM") if analyte in rated]
    return Ground(
        case,
        ece,
        ece is not None and scaled(ece) >= scaled(line.value),
        word,
        rated["P"].understood if "P" in rated else _olsen(case),
        organic_matter is not None and organic_matter.rating in MORE_THAN_ENOUGH,
        bed or case.submission.target.stage in TO_TILL or "new_stand" in traits,
        "turf" in traits,
        "edible" in traits,
        tuple(item for item in (line if ece is not None else None, row) if item is not None),
        tuple(dict.fromkeys(source for finding in used for source in finding.sources)),
    )


def _full_of_nitrate(case: Case) -> bool:
    """Whether nitrogen is held back for the nitrate that is there: then none from organic sources either."""
    nitrate = case.find("NO3-N")
    line = reference_of(case.library).factor("soil_nitrate_high_mg_kg")
    return nitrate is not None and scaled(nitrate.low) >= scaled(line.value)


def _olsen(case: Case) -> Quantity | None:
    """Olsen P that no class table of the plant judges."""
    olsen = case.find("P", OLSEN)
    return None if olsen is None else Quantity(olsen.low, olsen.unit)


def _phosphorus(case: Case, finding: Finding | None) -> tuple[str, Row | None]:
    """How full of phosphorus the soil is: by the Olsen lines of the factors table, else by the publisher's word."""
    reference = reference_of(case.library)
    if over_olsen_line(case, STOP):
        return "overfull", reference.factor(STOP)
    if over_olsen_line(case, REMOVAL_ONLY):
        return "high", reference.factor(REMOVAL_ONLY)
    olsen = case.find("P", OLSEN)
    if finding is None or finding.rating is None:
        return "unknown", None
    if finding.rating in OVERFULL:
        return "overfull", None
    return ("high" if olsen is None and finding.rating in MORE_THAN_ENOUGH else "enough_room"), None


def _answer(ground: Ground, kind: str, given: list[OrganicInput]) -> Recommendation:
    """One of: do not (salt, phosphorus, too deep), none needed, test first, or how much and how."""
    limits = ground.case.library.index(prepare_organic_limits)
    values = {"ECe": ground.ece, "P": ground.phosphorus_value}
    if kind == MANURE and well_at_risk(ground.case):
        return _told(ground, "do_not", kind, "near_well", {})
    if kind == MANURE and ground.turf and ground.phosphorus != "overfull":
        return _told(ground, "do_not", kind, "turf", _topdressing(ground, limits), limits["topdress"])
    if ground.salty and ground.phosphorus == "overfull":
        return _told(ground, "do_not", kind, "saline_and_p", values, limits["p_rich"])
    if ground.salty:
        low_salt = reference_of(ground.case.library).factor("compost_low_salt_dS_m")
        cap = limits["saline"]
        more = {"limit": ground.case.units.depth(cap.maximum), "EC": Quantity(low_salt.value, low_salt.unit)}
        return _told(ground, "do_not", kind, "saline", {**values, **more}, cap, low_salt)
    if ground.phosphorus == "overfull":
        return _told(ground, "do_not", kind, "p_overfull", values, limits["p_rich"])
    deep = _too_deep(ground, given, limits["manure_based"])
    if deep is not None:
        return _told(ground, "do_not", kind, "too_deep", {**values, **deep}, limits["manure_based"])
    if kind == COMPOST and ground.rich:
        return _told(ground, "none_needed", kind, "rich", values)
    if ground.phosphorus == "high":
        return _told(ground, "practice", kind, "p_high", values)
    if ground.phosphorus == "unknown" or ground.ece is None:
        limit = {"limit": ground.case.units.depth(limits["manure_based"].maximum)}
        return _told(ground, "practice", kind, "test_first", {**values, **limit}, limits["manure_based"])
    return _welcome(ground, kind, limits)


def _topdressing(ground: Ground, limits: Mapping[str, LimitRow]) -> dict[str, Any]:
    """How thin a layer standing grass bears, and how salty the compost may be."""
    low_salt = reference_of(ground.case.library).factor("compost_low_salt_dS_m")
    thin = ground.case.units.depth(limits["topdress"].maximum)
    return {"limit": thin, "EC": Quantity(low_salt.value, low_salt.unit)}


def _too_deep(ground: Ground, given: list[OrganicInput], cap: LimitRow) -> dict[str, Any] | None:
    """A layer deeper than what may be mixed in at once."""
    units = ground.case.library.index(Units.of)
    for item in given:
        if item.depth is not None and scaled(units.inches(item.depth)) > scaled(cap.maximum):
            return {"depth": item.depth, "limit": ground.case.units.depth(cap.maximum)}
    return None


def _welcome(ground: Ground, kind: str, limits: Mapping[str, LimitRow]) -> Recommendation:
    """Nothing speaks against it: how deep on bare ground, how thin where plants stand."""
    case = ground.case
    if kind == MANURE:
        cap = limits["manure_based"]
        return _told(ground, "practice", kind, "welcome", {"limit": case.units.depth(cap.maximum)}, cap)
    if not ground.tilled:
        if ground.turf:
            return _told(ground, "practice", kind, "turf", _topdressing(ground, limits), limits["topdress"])
        return _told(ground, "practice", kind, "surface", {})
    yearly, first = limits["every_year"], limits["plant_based"]
    values = {"depth": case.units.depth(yearly.maximum), "first": case.units.depth(first.maximum)}
    answer = _told(ground, "amendment", kind, "welcome", values, yearly, first)
    answer.rate = case.units.depth(yearly.maximum)
    answer.for_area = _volume(case, yearly.maximum)
    return answer


def _wait(ground: Ground) -> Recommendation:
    """Days from raw manure to harvest where food grows, by whether the part eaten touches the soil."""
    reference = reference_of(ground.case.library)
    touching, off = reference.factor("manure_wait_touching_d"), reference.factor("manure_wait_not_touching_d")
    basis = cite(touching, off)
    today, days = ground.case.as_of, (int(touching.value), int(off.value))
    values: dict[str, object] = {"touching": days[0], "off": days[1], "today": today}
    values.update(zip(("touching_day", "off_day"), (today + timedelta(days=each) for each in days), strict=True))
    return Recommendation(
        "practice", MANURE, Note("rec.manure_wait", values), sources=basis.sources, verification=basis.verification
    )


def _volume(case: Case, inches: float) -> Quantity | None:
    """A layer over the whole area: cubic yards, or cubic metres in metric units."""
    if case.area_m2 is None:
        return None
    cubic_metres = case.area_m2 * inches * METRES_PER_INCH
    if case.units.system == "metric":
        return Quantity(round(cubic_metres, 2), "m3")
    return Quantity(round(cubic_metres / YARD**3, 2), "yd3")


def _told(ground: Ground, kind: str, subject: str, why: str, values: Mapping[str, Any], *rows: Row) -> Recommendation:
    basis = cite(*rows, *ground.rows)
    return Recommendation(
        kind,
        subject,
        Note(f"rec.{subject}_{why}", values),
        sources=tuple(dict.fromkeys((*basis.sources, *ground.sources))),
        verification=basis.verification,
        table=basis.table,
    )


def _supplied(ground: Ground, item: OrganicInput) -> Recommendation | None:
    """What a stated amount brings, with the share of its nitrogen that counts this season."""
    brought = supply(ground.case, item)
    if brought is None or brought.N is None:
        return None
    ledger = Ledger(ground.case.explain)
    rate = ground.case.units.rate
    values: dict[str, Any] = {"material": Word("organic_inputs", item.material), "N": rate(brought.N)}
    values["P2O5"] = None if brought.P2O5 is None else rate(brought.P2O5)
    values["first"] = None if brought.N_first_season is None else rate(brought.N_first_season)
    total = rate(brought.N)
    ledger.step("organic_supply", "supply", {"material": item.material}, total.value, total.unit)
    basis = cite(*brought.rows)
    return Recommendation(
        "practice",
        KINDS.get(item.material, MANURE),
        Note(_supply_code(brought), values),
        because=tuple(ledger.steps),
        sources=basis.sources,
        verification=basis.verification,
        table=basis.table,
    )


def _supply_code(brought: Supply) -> str:
    first = "" if brought.N_first_season is None else "_first_season"
    return f"rec.organic_supplies{first}" + ("" if brought.P2O5 is None else "_with_p")


def _mulch(ground: Ground) -> Recommendation:
    """Woody and strawy material: on top, not mixed in, because it ties nitrogen up."""
    row = ground.case.library.index(prepare_organics)["any_amendment", "C_N_release_max"]
    basis = cite(row)
    values = {"ratio": row.upper or row.value}
    text = Note("rec.mulch_on_top", values)
    return Recommendation("practice", COMPOST, text, sources=basis.sources, verification=basis.verification)


def _organic_only(ground: Ground) -> Recommendation:
    """Nitrogen from organic sources: meals where salt or phosphorus forbid manure and compost."""
    full = ground.salty or ground.phosphorus in ("overfull", "high")
    row = ground.case.library.index(prepare_organics)["feather_meal", "N_available_pct"]
    basis = cite(row)
    text = Note("rec.organic_only_meals" if full else "rec.organic_only", {"share": row.value})
    return Recommendation("practice", "N", text, sources=basis.sources, verification=basis.verification)


def prepare_organic_limits(library: Library) -> Mapping[str, LimitRow]:
    """Depth limits of compost and manure by condition word, from ``application-limits``."""
    return {
        row.when: row for row in library.rows("application-limits", LimitRow) if row.subject == COMPOST and row.when
    }
