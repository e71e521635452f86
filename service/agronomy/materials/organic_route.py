"""How much manure or compost feeds a season: by its nitrogen, by its phosphate and by its salt; the smallest counts.

Manure that meets the nitrogen of plants brings several times the phosphate they need (S-MSU-MANURE worksheet), and
most of its salt stays. So the rate by phosphate caps the rate by nitrogen, and the salt line caps both.
"""

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from service.agronomy.errors import OutOfRange
from service.agronomy.findings import Application, Note, Recommendation, Word
from service.agronomy.ledger import Ledger
from service.agronomy.nitrogen_words import with_more
from service.agronomy.organic_supply import NUTRIENTS, prepare_organics, share_of, supply
from service.agronomy.sample import Case
from service.agronomy.submission import OrganicInput, Quantity
from service.agronomy.tables import Library, LimitRow, MaterialRow, Row
from service.agronomy.units import (
    METRES_PER_FOOT,
    METRES_PER_INCH,
    SQUARE_METRES_PER_1000_FT2,
    Units,
    scaled,
    significant,
)

MANURE, COMPOST = "manure", "compost"
USUAL: Mapping[str, str] = {MANURE: "steer_manure", COMPOST: "compost"}
"""The material that is meant where the client names none: what is sold most."""
SOLD_AS: Mapping[str, str] = {
    "compost": "yard_compost",
    "dairy_manure": "steer_manure",
    "steer_manure": "steer_manure",
    "horse_manure": "horse_manure",
    "sheep_manure": "sheep_manure",
    "poultry_manure": "poultry_litter",
}
"""Organic input -> its row of the materials table, for phosphate and density that organic-inputs has not."""
YARD = 3 * METRES_PER_FOOT
G_PER_M3_PER_KG_L = 1_000_000.0
ARE = 100.0
"""Square metres that a volume is told for where nobody gave the area and reads metric."""
BY_N, BY_P, BY_SALT = "n", "p", "salt"


class Analysis(NamedTuple):
    """A material as it is spread: mass fractions, and kg/L where a density is known. ``None`` is not known."""

    material: str
    N: float | None
    N_first: float | None
    P2O5: float | None
    density: float | None
    rows: tuple[Row, ...]
    K2O: float | None = None


class Rates(NamedTuple):
    """The rate by each limit, g/m2 as spread; ``None`` where the limit cannot be worked out or does not bind."""

    by_N: float | None
    by_P2O5: float | None
    by_salt: float | None

    def smallest(self) -> tuple[float, str] | None:
        """The rate that counts and which limit sets it; on a tie phosphate before nitrogen before salt."""
        found = [(self.by_P2O5, BY_P), (self.by_N, BY_N), (self.by_salt, BY_SALT)]
        known = [(rate, word) for rate, word in found if rate is not None]
        return min(known, key=lambda each: scaled(each[0])) if known else None


def rate_by(need: float, content: float) -> float:
    """Material that brings so much of one nutrient: need / content, in the unit of need over that of content.

    Range: need >= 0, content > 0. Source S-MSU-MANURE (land application worksheet, step 5). Raises OutOfRange.

    >>> round(rate_by(160, 8.53), 1), round(rate_by(50, 18), 1)  # US ton/acre for N and for P2O5
    (18.8, 2.8)
    """
    if need < 0:
        raise OutOfRange("need", "0 <= x")
    if content <= 0:
        raise OutOfRange("content", "0 < x")
    return need / content


def analysis_of(library: Library, material: str) -> Analysis:
    """What a material holds by the published analyses; the first row of each property stands for it."""
    table = library.index(prepare_organics)
    rows: list[Row] = []
    sold = library.index(prepare_materials).get(SOLD_AS.get(material, ""))
    shares = {nutrient: share_of(table, material, nutrient, rows) for nutrient in NUTRIENTS}
    for nutrient in ("P2O5", "K2O"):
        percent = None if sold is None else getattr(sold, f"{nutrient}_pct")
        if shares[nutrient] is None and sold is not None and percent is not None:
            shares[nutrient] = percent / 100.0
            rows.append(sold)
    available = table.get((material, "N_available_pct"))
    first = None
    if shares["N"] is not None and available is not None:
        first = shares["N"] * available.value / 100.0
        rows.append(available)
    density = sold.bulk_density_kg_L if sold is not None else None
    cited = tuple(dict.fromkeys(rows))
    return Analysis(material, shares["N"], first, shares["P2O5"], density, cited, shares["K2O"])


def prepare_materials(library: Library) -> Mapping[str, MaterialRow]:
    """The table ``materials`` by id."""
    return {row.material: row for row in library.rows("materials", MaterialRow)}


def salt_cap(library: Library) -> LimitRow | None:
    """The most manure at one time, above which its salt hurts (limit ``manure_salt``)."""
    rows = library.rows("application-limits", LimitRow)
    return next((row for row in rows if row.subject == MANURE and row.limit == "manure_salt"), None)


def needs_of(case: Case, recommendations: Iterable[Recommendation]) -> dict[str, float]:
    """N and P2O5 that the plan still asks for, g/m2; 0 where it says none. What it leaves open is left out."""
    units = case.library.index(Units.of)
    found: dict[str, float] = {}
    for item in recommendations:
        if item.subject not in ("N", "P2O5"):
            continue
        if item.kind in ("none_needed", "do_not"):
            found.setdefault(item.subject, 0.0)
            continue
        rate, base = item.rate, item.base_rate
        if item.kind == "nutrient" and rate is not None and base is not None and by_area(units, rate):
            found.setdefault(item.subject, base)
    return found


def by_area(units: Units, rate: Quantity) -> bool:
    """Whether a rate is per area, not per tree."""
    return units.dimension(rate.unit) == "areal_rate"


def rates_of(case: Case, analysis: Analysis, needs: Mapping[str, float]) -> Rates:
    """The three rates of a material for what the plan asks for, g/m2."""
    by_N = by_P2O5 = by_salt = None
    if "N" in needs and analysis.N_first:
        by_N = rate_by(needs["N"], analysis.N_first)
    if "P2O5" in needs and analysis.P2O5:
        by_P2O5 = rate_by(needs["P2O5"], analysis.P2O5)
    cap = case.library.index(salt_cap)
    if cap is not None and analysis.material != COMPOST:
        by_salt = case.library.index(Units.of).areal(Quantity(cap.maximum, cap.unit))
    return Rates(by_N, by_P2O5, by_salt)


class Feeding(NamedTuple):
    """Everything about one material for one case."""

    case: Case
    kind: str
    analysis: Analysis
    needs: Mapping[str, float]
    rates: Rates


def feeding(case: Case, kind: str, given: list[OrganicInput], plan: Iterable[Recommendation]) -> Feeding:
    """The material named by the client, else the usual one, against the plan.

    What the client puts on already was taken off the plan's nitrogen, so it is put back: the rate is for all of it.
    """
    material = given[0].material if given else USUAL[kind]
    needs = needs_of(case, plan)
    for item in given:
        brought = supply(case, item)
        if brought is not None and brought.N_first_season is not None and needs.get("N"):
            needs["N"] += brought.N_first_season
    analysis = analysis_of(case.library, material)
    return Feeding(case, kind, analysis, needs, rates_of(case, analysis, needs))


def phosphate_met(fed: Feeding) -> bool:
    """Whether the plan says that no phosphate is needed: then manure is no fertilizer for this ground."""
    return fed.needs.get("P2O5") == 0.0


def amount(fed: Feeding, kind: str = "amendment") -> list[Recommendation]:
    """The rate that counts and what set it, then what it brings; empty where phosphate or analysis is not known."""
    found = fed.rates.smallest()
    if found is None or fed.rates.by_P2O5 is None or scaled(found[0]) == 0:
        return []
    rate, limit = found
    ledger = Ledger(fed.case.explain)
    _explain(fed, rate, ledger)
    cited = ledger.cited()
    shown = fed.case.units.rate(rate)
    text = with_more(f"rec.organic_amount_by_{limit}", _values(fed, shown), volume_notes(fed.case, fed.analysis, rate))
    measured = Recommendation(
        kind,
        fed.kind,
        text,
        rate=shown,
        for_area=fed.case.units.total(rate),
        applications=(Application(Note("when.organic_once"), shown),),
        because=tuple(ledger.steps),
        sources=cited.sources,
        verification=cited.verification,
        table=cited.table,
        base_rate=rate,
    )
    return [measured, _brings(fed, rate)]


def _values(fed: Feeding, shown: Quantity) -> dict[str, Any]:
    """What the sentence about the rate needs: the material and the rate by each of the other limits."""
    rates, units = fed.rates, fed.case.units
    by_n = Note("rec.organic_by_n_none" if fed.analysis.N_first == 0.0 else "rec.organic_by_n_open")
    if rates.by_N is not None:
        by_n = Note("rec.organic_by_n", {"rate": units.rate(rates.by_N)})
    material = Word("organic_inputs", fed.analysis.material)
    by_p, salt = units.rate(rates.by_P2O5 or 0.0), units.rate(rates.by_salt or 0.0)
    return {"material": material, "rate": shown, "by_p": by_p, "by_n": by_n, "salt": salt}


def _brings(fed: Feeding, rate: float) -> Recommendation:
    """What so much brings this season, to take off what is bought, and in the two years after.

    Of its organic nitrogen; source cornell-manure. Where no ammonium is known all of it is taken for organic.
    """
    ledger, analysis = Ledger(fed.case.explain), fed.analysis
    ledger.use(*analysis.rows)
    values: dict[str, Any] = {"P2O5": _about(fed, rate * (analysis.P2O5 or 0.0))}
    code = "rec.organic_brings_p"
    if analysis.N_first:
        code, values["N"] = "rec.organic_brings", _about(fed, rate * analysis.N_first)
    table = fed.case.library.index(prepare_organics)
    years = [table.get(("any_manure", f"organic_N_release_year_{year}_pct")) for year in (2, 3)]
    later = []
    if fed.kind == MANURE and analysis.N is not None and (rows := [row for row in years if row is not None]):
        ledger.use(*rows)
        shares = [_about(fed, rate * analysis.N * row.value / 100) for row in rows]
        later.append(Note("rec.organic_later", {"second": shares[0], "third": shares[-1]}))
    cited = ledger.cited()
    text = with_more(code, values, later)
    return Recommendation("practice", fed.kind, text, sources=cited.sources, verification=cited.verification)


def _about(fed: Feeding, g_m2: float) -> Quantity:
    """A rate as finely as an analysis from a list allows."""
    shown = fed.case.units.rate(g_m2)
    return Quantity(significant(shown.value, 2), shown.unit)


def volume_notes(case: Case, analysis: Analysis, g_m2: float) -> list[Note]:
    """The same as a volume and a depth, where a density is known: what a yard or a bag by volume is bought by."""
    if analysis.density is None:
        return []
    depth_m = g_m2 / (analysis.density * G_PER_M3_PER_KG_L)
    depth = case.units.depth(depth_m / METRES_PER_INCH)
    values: dict[str, Any] = {"depth": Quantity(significant(depth.value, 2), depth.unit)}
    if case.area_m2 is not None:
        return [Note("rec.organic_volume", {**values, "volume": volume(case, depth_m * case.area_m2)})]
    if case.units.system == "metric":
        return [Note("rec.organic_volume_each_metric", {**values, "volume": volume(case, depth_m * ARE)})]
    return [Note("rec.organic_volume_each", {**values, "volume": volume(case, depth_m * SQUARE_METRES_PER_1000_FT2)})]


def volume(case: Case, cubic_metres: float) -> Quantity:
    """Cubic yards, below one cubic feet; cubic metres, below one litres."""
    if case.units.system == "metric":
        if cubic_metres < 1:
            return Quantity(significant(cubic_metres * 1000, 2), "L")
        return Quantity(significant(cubic_metres, 2), "m3")
    yards = cubic_metres / YARD**3
    if yards < 1:
        return Quantity(significant(yards * 27, 2), "ft3")
    return Quantity(significant(yards, 2), "yd3")


def _explain(fed: Feeding, rate: float, ledger: Ledger) -> None:
    if not fed.case.explain:
        return
    analysis, rates, units = fed.analysis, fed.rates, fed.case.units
    if rates.by_N is not None:
        inputs = {"need": units.rate(fed.needs["N"]), "share": significant(analysis.N_first or 0.0, 4)}
        _step(ledger, fed, "organic_by_n", inputs, rates.by_N)
    if rates.by_P2O5 is not None:
        inputs = {"need": units.rate(fed.needs["P2O5"]), "share": significant(analysis.P2O5 or 0.0, 4)}
        _step(ledger, fed, "organic_by_p", inputs, rates.by_P2O5)
    cap = fed.case.library.index(salt_cap)
    if rates.by_salt is not None and cap is not None:
        ledger.use(cap)
        _step(ledger, fed, "organic_by_salt", {"limit": Quantity(cap.maximum, cap.unit)}, rates.by_salt)
    _step(ledger, fed, "organic_rate", {}, rate)


def _step(ledger: Ledger, fed: Feeding, step: str, inputs: dict[str, Any], g_m2: float) -> None:
    shown = fed.case.units.rate(g_m2)
    ledger.step(step, "rate_by", inputs, shown.value, shown.unit, *fed.analysis.rows)


def layer_brings(fed: Feeding, inches: float) -> Recommendation | None:
    """What a layer of compost brings against what the season needs: it builds soil, it is not the fertilizer."""
    analysis, need = fed.analysis, fed.needs.get("P2O5")
    if analysis.density is None or analysis.P2O5 is None or analysis.N_first is None or need is None:
        return None
    units = fed.case.units
    mass = inches * METRES_PER_INCH * analysis.density * G_PER_M3_PER_KG_L
    ledger = Ledger(fed.case.explain)
    shown = units.rate(mass * analysis.P2O5)
    inputs = {"depth": units.depth(inches), "density": analysis.density, "share": analysis.P2O5}
    ledger.step("organic_layer", "layer_brings", inputs, shown.value, shown.unit, *analysis.rows)
    values: dict[str, Any] = {
        "depth": units.depth(inches),
        "P2O5": _about(fed, mass * analysis.P2O5),
        "N": _about(fed, mass * analysis.N_first),
    }
    text = Note("rec.compost_layer_none_needed", values)
    if need > 0:
        values["times"] = significant(mass * analysis.P2O5 / need, 2)
        by_P2O5 = rate_by(need, analysis.P2O5)
        text = with_more("rec.compost_layer_brings", values, volume_notes(fed.case, analysis, by_P2O5))
    cited = ledger.cited()
    return Recommendation(
        "practice",
        COMPOST,
        text,
        because=tuple(ledger.steps),
        sources=cited.sources,
        verification=cited.verification,
        table=cited.table,
    )
