"""Lowering pH: sulfur where the soil is free of lime, and a firm no with the arithmetic where it is not."""

from collections.abc import Mapping
from typing import NamedTuple

from service.agronomy.acidity import between, gypsum_formed, sulfur_for_carbonate, vinegar_for_carbonate
from service.agronomy.amendments import TURF_KINDS, amendment, answer, cap_for, layer_of, plan, withheld
from service.agronomy.findings import Note, Recommendation, Texture, Word
from service.agronomy.ledger import Ledger
from service.agronomy.reaction import Reaction
from service.agronomy.reclaiming import works_for_living
from service.agronomy.reference import reference_of
from service.agronomy.sample import Case
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library, SulfurRateRow
from service.agronomy.units import Units, scaled, significant

EACH_PERCENT = 1.0
"""The arithmetic for soil whose lime was seen but not measured is told for each percent of lime."""


class SulfurTable(NamedTuple):
    """Rates in g/m2 by pH now, for one texture group, down to ``wanted``, worked into ``depth_in``."""

    points: tuple[tuple[float, float], ...]
    wanted: float
    depth_in: float
    rows: tuple[SulfurRateRow, ...]


def sulfur_tables(library: Library) -> Mapping[str, SulfurTable]:
    """Texture group -> sulfur table. At the pH wanted the rate is nothing by definition."""
    units = library.index(Units.of)
    by_group: dict[str, list[SulfurRateRow]] = {}
    for row in library.rows("sulfur-rates", SulfurRateRow):
        by_group.setdefault(row.texture, []).append(row)
    tables = {}
    for group, rows in by_group.items():
        points = [(row.pH_now, units.areal(Quantity(row.rate_lb_acre, "lb/acre"))) for row in rows]
        points.append((rows[0].pH_wanted, 0.0))
        tables[group] = SulfurTable(tuple(sorted(points)), rows[0].pH_wanted, rows[0].depth_in, tuple(rows))
    return tables


def sulfur_answer(case: Case, reaction: Reaction, texture: Texture | None) -> Recommendation:
    """Sulfur to lower pH: an amount, none needed, do not, or what must be known first."""
    if reaction.calcareous:
        return _not_in_lime(case, reaction, reaction.lime_pct)
    if reaction.pH is None:
        return withheld("sulfur", "sulfur_needs_pH")
    wanted = wanted_pH(case)
    if scaled(reaction.pH) <= scaled(wanted):
        return answer(
            "none_needed", "sulfur", Note("rec.sulfur_none", {"pH": reaction.pH, "wanted": wanted}), _with(reaction)
        )
    if reaction.calcareous is None:
        return _lime_unknown(case, reaction)
    return _amount(case, reaction, texture, wanted)


def wanted_pH(case: Case) -> float:
    """The highest pH the target is content with; the table's default when there is no target."""
    if case.crop is not None and case.crop.pH_range is not None:
        return case.crop.pH_range[1]
    return reference_of(case.library).factor("acid_target_pH_default").value


def _with(reaction: Reaction) -> Ledger:
    ledger = Ledger(True)
    ledger.steps = list(reaction.steps)
    ledger.given = (reaction.sources, reaction.verification)
    return ledger


def _lime_unknown(case: Case, reaction: Reaction) -> Recommendation:
    limit = reference_of(case.library).factor("lime_unknown_acidify_pH_max")
    if reaction.pH is not None and scaled(reaction.pH) >= scaled(limit.value):
        return _not_in_lime(case, reaction, None)
    return withheld("sulfur", "sulfur_fizz_first", {"pH": reaction.pH}, limit)


def _not_in_lime(case: Case, reaction: Reaction, percent: float | None) -> Recommendation:
    """Do not: what the lime alone would swallow, in doses, and what it would leave behind."""
    ledger = Ledger(case.explain)
    reference = reference_of(case.library)
    counted = percent if percent else EACH_PERCENT
    soil = convention_mass(case.library)
    sulfur = sulfur_for_carbonate(counted, soil)
    gypsum = gypsum_formed(counted, soil)
    doses = plan(sulfur, cap_for(case, "sulfur"))
    ledger.use(reference.formula("s_for_lime"), doses.cap.row if doses.cap else None)
    if case.explain:
        inputs = {"lime": counted, "soil": case.units.rate(soil)}
        rows = (reference.formula("s_for_lime"), reference.factor("soil_lb_per_acre_6_in"))
        ledger.step("sulfur_for_lime", "s_for_lime", inputs, *_pair(case, sulfur), *rows)
        if doses.cap:
            inputs = {"sulfur": case.units.rate(sulfur), "limit": case.units.rate(doses.cap.g_m2)}
            ledger.step("sulfur_doses", "s_for_lime", inputs, doses.doses, "1", doses.cap.row)
        row = reference.formula("gypsum_from_lime")
        ledger.step("gypsum_left", "gypsum_from_lime", {"lime": counted}, *_pair(case, gypsum), row)
    values = {
        "instead": instead(case),
        "lime": counted,
        "sulfur": case.units.rate(sulfur),
        "doses": doses.doses,
        "dose": case.units.rate(doses.dose),
        "gypsum": case.units.rate(gypsum),
        "depth": case.units.depth(reference.formula("s_for_lime").coefficients["depth_in"]),
        "pH": reaction.pH,
    }
    code = "rec.sulfur_not_in_lime" if percent else "rec.sulfur_not_in_limy"
    if reaction.calcareous is None:
        code = "rec.sulfur_lime_likely"
    return answer("do_not", "sulfur", Note(code, values), ledger)


def instead(case: Case) -> Note:
    """What to do instead of lowering pH: containers and beds are for gardens, not for fields and lawns."""
    kind = case.crop.kind if case.crop else None
    if kind in TURF_KINDS:
        return Note("rec.instead_turf")
    if works_for_living(case) or case.units.system == "us_field":
        return Note("rec.instead_field")
    return Note("rec.instead_garden")


def calcium_by_sulfur(case: Case) -> Recommendation:
    """Sulfur for a sodic, limy soil: the acid it makes frees calcium from the lime. An option a person compares.

    Source HB60: elemental sulfur does the work of so many times its mass of gypsum where the soil holds lime.
    """
    ledger = Ledger(case.explain)
    row = reference_of(case.library).equivalents()["elemental_sulfur"]
    times = round(1 / row.mass_per_mass_gypsum, 1)
    ledger.step("sulfur_for_gypsum", "equivalent_amounts", {"mass": row.mass_per_mass_gypsum}, times, "1", row)
    return answer("practice", "sulfur", Note("rec.sulfur_for_calcium", {"times": times}), ledger)


def _pair(case: Case, g_m2: float) -> tuple[float, str]:
    rate = case.units.rate(g_m2)
    return rate.value, rate.unit


def convention_mass(library: Library) -> float:
    """The 2,000,000 lb of an acre six inches deep, g/m2."""
    row = reference_of(library).factor("soil_lb_per_acre_6_in")
    return library.index(Units.of).areal(Quantity(row.value, row.unit))


def _amount(case: Case, reaction: Reaction, texture: Texture | None, wanted: float) -> Recommendation:
    if texture is None:
        return withheld("sulfur", "sulfur_needs_texture")
    layer = layer_of(case)
    if layer is None:
        return withheld("sulfur", "sulfur_needs_depth")
    table = case.library.index(sulfur_tables).get(texture.group)
    pH = reaction.pH or 0.0
    if table is None or not table.points[0][0] < pH <= table.points[-1][0]:
        return withheld("sulfur", "sulfur_outside_table", {"pH": pH})
    ledger = Ledger(case.explain)
    by_texture = between(pH, table.points) * layer.thickness_in / table.depth_in
    inputs = {
        "pH": pH,
        "pH_wanted": table.wanted,
        "texture": Word("texture", texture.group),
        "depth": layer.thickness_in,
    }
    ledger.step("sulfur_by_texture", "s_by_texture", inputs, *_pair(case, by_texture), *table.rows)
    total = by_texture + _for_little_lime(case, reaction, layer.thickness_in / table.depth_in, ledger)
    code = "rec.sulfur_part_way" if scaled(wanted) < scaled(table.wanted) else "rec.sulfur"
    values = {"pH": pH, "wanted": table.wanted, "depth": case.units.depth(layer.thickness_in)}
    return amendment(case, "sulfur", Note(code, values), total, ledger)


def _for_little_lime(case: Case, reaction: Reaction, share: float, ledger: Ledger) -> float:
    """Sulfur for a measured trace of lime, below the line where sulfur is useless."""
    if not reaction.lime_pct:
        return 0.0
    reference = reference_of(case.library)
    extra = sulfur_for_carbonate(reaction.lime_pct, convention_mass(case.library) * share)
    row = reference.formula("s_for_lime")
    ledger.step("sulfur_for_lime", "s_for_lime", {"lime": reaction.lime_pct}, *_pair(case, extra), row)
    return extra


def vinegar_answer(case: Case, reaction: Reaction) -> Recommendation:
    """Vinegar on soil: never worth it; with lime, how much the lime would swallow."""
    ledger = Ledger(case.explain)
    if not reaction.calcareous:
        return answer("do_not", "vinegar", Note("rec.vinegar"), ledger)
    reference = reference_of(case.library)
    acid, counted = reference.factor("vinegar_acid_pct"), reaction.lime_pct or EACH_PERCENT
    amount = vinegar_for_carbonate(counted, convention_mass(case.library), acid.value)
    inputs = {"lime": counted, "acid": acid.value}
    ledger.step("vinegar_for_lime", "s_for_lime", inputs, *_pair(case, amount), acid)
    values = {"lime": counted, "vinegar": case.units.rate(amount)}
    return answer("do_not", "vinegar", Note("rec.vinegar_in_lime", values), ledger)


def aluminum_answer(case: Case, reaction: Reaction) -> Recommendation:
    """Aluminum sulfate: not on limy soil for the same reason as sulfur, and not elsewhere because sulfur is gentler."""
    ledger = Ledger(case.explain)
    reference = reference_of(case.library)
    factor = reference.factor("aluminum_sulfate_for_sulfur")
    if not reaction.calcareous:
        ledger.use(factor)
        return answer("do_not", "aluminum_sulfate", Note("rec.aluminum_sulfate", {"times": factor.value}), ledger)
    counted = reaction.lime_pct or EACH_PERCENT
    amount = sulfur_for_carbonate(counted, convention_mass(case.library)) * factor.value
    inputs = {"lime": counted, "times": factor.value}
    ledger.step("aluminum_sulfate_for_lime", "s_for_lime", inputs, *_pair(case, amount), factor)
    values = {
        "lime": counted,
        "amount": Quantity(significant(case.units.rate(amount).value), case.units.rate(amount).unit),
    }
    return answer("do_not", "aluminum_sulfate", Note("rec.aluminum_sulfate_in_lime", values), ledger)


def acid_answer(case: Case, reaction: Reaction) -> Recommendation:
    """Acid on soil or in irrigation water: licensed work, never for a home."""
    code = "rec.acid_in_lime" if reaction.calcareous else "rec.acid"
    return answer("do_not", "acid", Note(code), Ledger(case.explain))


def coffee_answer(case: Case, reaction: Reaction) -> Recommendation:
    """Coffee grounds: no acid worth the name, whatever the pH."""
    return answer("do_not", "coffee_grounds", Note("rec.coffee_grounds", {"pH": reaction.pH}), Ledger(case.explain))
