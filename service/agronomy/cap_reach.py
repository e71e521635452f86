"""How far hard caps reach where a case says less than they ask: no crop is known, or a material stands for a subject.

Prepared once: ``library.index(caps_anywhere)``, ``library.index(caps_of_materials)``.
"""

from collections.abc import Mapping

from service.agronomy.caps import AREAL, FIELD_KINDS, LENGTH, SEASON, Cap, Caps
from service.agronomy.submission import Quantity
from service.agronomy.tables import Crop, Library, LimitRow, MaterialRow
from service.agronomy.units import METRES_PER_INCH, Units, significant

G_PER_M3_PER_KG_L = 1_000_000.0
SHOWN = "lb/1000 ft2"


def caps_anywhere(library: Library) -> Mapping[str, tuple[Cap, ...]]:
    """By subject, the caps per area that a dose keeps whatever grows there, g/m2.

    Those that name neither use nor stage; of yearly ones by use the largest; of those on one dose by use the largest
    too, where every crop of the library has one.
    """
    found = {}
    for subject, caps in library.index(Caps.of).by_subject.items():
        areal = [cap for cap in caps if cap.dimension == AREAL]
        by_use = [cap for cap in areal if cap.row.uses or cap.row.stages]
        yearly = [cap for cap in by_use if cap.row.per in SEASON]
        single = [cap for cap in by_use if cap.row.per not in SEASON]
        if not all(any(_reaches(crop, cap.row) for cap in single) for crop in library.crops.values()):
            single = []
        largest = [max(group, key=_base) for group in (yearly, single) if group]
        found[subject] = (*(cap for cap in areal if cap not in by_use), *largest)
    return found


def _base(cap: Cap) -> float:
    return cap.base


def _reaches(crop: Crop, row: LimitRow) -> bool:
    use = "field" if crop.kind in FIELD_KINDS else "home"
    return not row.uses or not {use, crop.kind, crop.group, crop.id}.isdisjoint(row.uses)


def caps_of_materials(library: Library) -> Mapping[str, tuple[Cap, ...]]:
    """By material, the caps that its row names on the material itself (not on a nutrient it brings), g/m2.

    A layer's weight by the material's bulk density: g/m2 = inches x 0.0254 m x kg/L x 10^6 g per m3 and kg/L. Capped
    by weight and by layer alike, the material keeps both.
    """
    caps = {cap.row.limit: cap for held in library.index(Caps.of).by_subject.values() for cap in held}
    found = {}
    for row in library.rows("materials", MaterialRow):
        held = [caps[name] for name in row.limits if name in caps]
        named = [cap for cap in held if not hasattr(row, f"{cap.row.subject}_pct")]
        weighed = [_by_weight(library, cap, row) for cap in named]
        found[row.material] = tuple(cap for cap in weighed if cap is not None)
    return found


def _by_weight(library: Library, cap: Cap, row: MaterialRow) -> Cap | None:
    if cap.dimension != LENGTH:
        return cap if cap.dimension == AREAL else None
    if row.bulk_density_kg_L is None:
        return None
    base = cap.base * METRES_PER_INCH * row.bulk_density_kg_L * G_PER_M3_PER_KG_L
    shown = significant(library.index(Units.of).convert(base, "g/m2", SHOWN))
    return Cap(cap.row, base, AREAL, Quantity(shown, SHOWN))
