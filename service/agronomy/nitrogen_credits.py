"""Nitrogen that is there already: nitrate in soil and water, manure, legumes before, residue that ties some up.

Credits are rates in lb/acre as printed, because their factors are; the season plan turns them into g/m2.
A credit printed for one calibration is used with that calibration's rates only; one without may serve any plain
season rate, but never an equation, which has its own.
"""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from service.agronomy.ledger import Ledger
from service.agronomy.olsen import STOP, over_olsen_line
from service.agronomy.organic_supply import supply
from service.agronomy.plot import Plot
from service.agronomy.sample import Case, Measurement
from service.agronomy.tables import CreditRow, Library
from service.agronomy.units import GRAMS_PER_LB, SQUARE_METRES_PER_ACRE, Units

INCHES_PER_FOOT = 12.0
LB_ACRE = "lb/acre"
G_M2_PER_LB_ACRE = GRAMS_PER_LB / SQUARE_METRES_PER_ACRE
NITRATE = "NO3-N"
NITRATES = frozenset((NITRATE, "NO3"))

type_of_credits = Mapping[str, tuple[CreditRow, ...]]


def prepare_credits(library: Library) -> type_of_credits:
    """Read ``nitrogen-credits`` by credit."""
    found: dict[str, tuple[CreditRow, ...]] = {}
    for row in library.rows("nitrogen-credits", CreditRow):
        found[row.credit] = (*found.get(row.credit, ()), row)
    return found


def credit_row(library: Library, credit: str, calibration: str, general: bool, subject: str = "") -> CreditRow | None:
    """The row of a credit for one calibration; with ``general`` also one that belongs to none."""
    rows = library.index(prepare_credits).get(credit, ())
    meant = [row for row in rows if not subject or row.subject == subject]
    for row in meant:
        if row.calibration == calibration:
            return row
    return next((row for row in meant if row.calibration == ""), None) if general else None


PER_FOOT_UNIT = "lb/acre-ft per mg/kg"


def per_foot(library: Library, calibration: str) -> CreditRow | None:
    """Soil nitrate per foot of depth: the publisher's own factor, else the general one."""
    rows = [row for row in library.index(prepare_credits).get("soil_nitrate", ()) if row.unit == PER_FOOT_UNIT]
    own = [row for row in rows if row.calibration == calibration]
    return next(iter(own), None) or next((row for row in rows if row.calibration == ""), None)


class Layer(NamedTuple):
    """Nitrate of one layer: top and bottom in inches, NO3-N in mg/kg, the least that is sure."""

    top: float
    bottom: float
    mg_kg: float

    @property
    def thickness_ft(self) -> float:
        """Thickness in feet."""
        return (self.bottom - self.top) / INCHES_PER_FOOT


class Profile(NamedTuple):
    """Nitrate by depth, from the surface down without a gap."""

    layers: tuple[Layer, ...]

    @property
    def bottom(self) -> float:
        """How deep the profile reaches, inches."""
        return self.layers[-1].bottom

    def to(self, depth_in: float) -> "Profile":
        """The profile cut off at a depth."""
        cut = (layer._replace(bottom=min(layer.bottom, depth_in)) for layer in self.layers if layer.top < depth_in)
        return Profile(tuple(cut))

    @property
    def mean(self) -> float:
        """Mean NO3-N weighted by depth, mg/kg."""
        thickness = sum(layer.bottom - layer.top for layer in self.layers)
        return sum(layer.mg_kg * (layer.bottom - layer.top) for layer in self.layers) / thickness

    def amount(self, per_foot: float) -> float:
        """NO3-N in the profile: mg/kg x feet x ``per_foot`` (lb/acre-ft per mg/kg), lb/acre. Source osu-fg40."""
        return sum(layer.mg_kg * layer.thickness_ft * per_foot for layer in self.layers)


def nitrate_profile(case: Case) -> Profile | None:
    """The trusted nitrate results by depth; ``None`` without one, or when nobody said how deep it was taken.

    A figure below the reporting limit counts as nothing: what may not be there is not credited.
    """
    main = case.find(NITRATE)
    sent = [(main, main.depth_in or case.depth_in)] if main is not None else []
    sent += [(layer, layer.depth_in) for layer in case.layers if layer.analyte == NITRATE]
    found = sorted(_layers(case.weakened, sent))
    chained: list[Layer] = []
    for layer in found:
        if not chained or abs(layer.top - chained[-1].bottom) <= SEAM_IN:
            chained.append(layer)
    return Profile(tuple(chained)) if chained and chained[0].top <= SEAM_IN else None


def nitrate_withheld(case: Case) -> bool:
    """Whether a nitrate result was sent and cannot be used: no default may stand in for it."""
    return any(
        result.analyte in NITRATES and index in case.voids and case.voids[index].code != REPEATED
        for index, result in enumerate(case.submission.results)
    )


REPEATED = "void.repeated"
"""A figure sent twice counts once; nothing is missing by that."""
SEAM_IN = 0.5
"""Two layers this close, inches, join: a tolerance of writing (30 cm and 12 in), not of soil."""


def _layers(
    weakened: Mapping[int, object], sent: Iterable[tuple[Measurement, tuple[float, float] | None]]
) -> Iterable[Layer]:
    for measurement, depth in sent:
        if depth is not None and depth[1] > depth[0] and measurement.index not in weakened:
            yield Layer(depth[0], depth[1], max(measurement.low, 0.0))


def soil_nitrate(plot: Plot, calibration: str, ledger: Ledger) -> float:
    """Credit for nitrate in the sampled depth, lb/acre; 0 without a usable nitrate test."""
    profile = nitrate_profile(plot.case)
    row = per_foot(plot.case.library, calibration)
    if profile is None or row is None:
        return 0.0
    credit = profile.amount(row.value)
    inputs = {"nitrate": profile.mean, "depth": profile.bottom, "per_foot": row.value}
    ledger.step("soil_nitrate_credit", "soil_nitrate", inputs, round(credit, 1), LB_ACRE, row)
    return credit


def water_nitrate(plot: Plot, calibration: str, general: bool, ledger: Ledger) -> float:
    """Credit for nitrate in the irrigation water of a season: value x mg/L x inches, lb/acre. Source uc-inm-water.

    0 unless both the water's nitrate and the depth applied were sent.
    """
    case = plot.case
    irrigation = case.submission.site.irrigation_water
    nitrate = case.find_water(NITRATE)
    if irrigation is None or irrigation.applied is None or nitrate is None:
        return 0.0
    row = credit_row(case.library, "water_nitrate", calibration, general)
    if row is None:
        return 0.0
    inches = case.library.index(Units.of).inches(irrigation.applied)
    credit = row.value * max(nitrate.low, 0.0) * inches
    inputs = {"nitrate": nitrate.low, "water": inches, "factor": row.value}
    ledger.step("water_nitrate_credit", "water_nitrate", inputs, round(credit, 1), LB_ACRE, row)
    return credit


MANURE, BIOSOLIDS = "_manure", "biosolids"


def organic_nitrogen(plot: Plot, ledger: Ledger) -> float:
    """Nitrogen that manure and compost put on every year give this season, lb/acre.

    Not where salt or phosphorus forbid them: there the advice is to stop, and nothing of it comes.
    """
    inputs = plot.case.submission.site.organic_inputs
    if not inputs or plot.setting.saline or over_olsen_line(plot.case, STOP):
        return 0.0
    found = 0.0
    for item in inputs:
        brought = supply(plot.case, item)
        if brought is not None and brought.N_first_season is not None:
            credit = brought.N_first_season / G_M2_PER_LB_ACRE
            given = {"material": item.material}
            ledger.step("organic_credit", "supply", given, round(credit, 1), LB_ACRE, *brought.rows)
            found += credit
    return found


def uncounted_manure(plot: Plot) -> str | None:
    """A manure put on regularly of which nobody said how much, or whose nitrogen no table knows.

    Not where salt or phosphorus forbid it: there the advice is to stop.
    """
    case = plot.case
    if plot.setting.saline or over_olsen_line(case, STOP):
        return None
    for item in case.submission.site.organic_inputs:
        if item.material.endswith(MANURE) or item.material == BIOSOLIDS:
            brought = supply(case, item)
            if brought is None or brought.N_first_season is None:
                return item.material
    return None


def previous_crop(plot: Plot, calibration: str, general: bool, ledger: Ledger) -> float:
    """Credit for a legume before, less the debit for residue that ties nitrogen up, lb/acre.

    Where the credit depends on the stand and nobody described it, the smallest one printed for this soil is taken.
    """
    before = plot.case.submission.site.previous_crop
    if before is None:
        return 0.0
    rows = plot.case.library.index(prepare_credits)
    legumes = [row for row in rows.get("legume", ()) if row.subject == before and _usable(row, calibration, general)]
    on_sand = [row for row in legumes if row.when.endswith("sand")]
    others = [row for row in legumes if row not in on_sand]
    credit = min((on_sand if plot.setting.sand and on_sand else others), key=lambda row: row.value, default=None)
    total = 0.0
    if credit is not None:
        ledger.step("legume_credit", "previous_crop", {"before": before}, credit.value, LB_ACRE, credit)
        total += credit.value
    debit = credit_row(plot.case.library, "residue_debit", calibration, False, before)
    if debit is not None:
        ledger.step("residue_debit", "previous_crop", {"before": before}, debit.value, LB_ACRE, debit)
        total -= debit.value
    return total


def uncredited_legume(plot: Plot, calibration: str, general: bool) -> str | None:
    """A legume before, credited by some publisher but not by the one whose rate is used."""
    before = plot.case.submission.site.previous_crop
    rows = [row for row in plot.case.library.index(prepare_credits).get("legume", ()) if row.subject == before]
    return before if rows and not any(_usable(row, calibration, general) for row in rows) else None


def _usable(row: CreditRow, calibration: str, general: bool) -> bool:
    return row.calibration == calibration or (general and row.calibration == "")
