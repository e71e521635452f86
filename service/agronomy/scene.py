"""What the triggers of cautions look at: the case, what is recommended, asked for and put on the ground."""

from collections.abc import Iterable
from typing import NamedTuple

from service.agronomy.findings import Finding, Recommendation, Salinity, Sodium
from service.agronomy.health import metals
from service.agronomy.reaction import Reaction
from service.agronomy.sample import Case, Measurement
from service.agronomy.submission import Quantity, Site

DOING = frozenset(("nutrient", "amendment"))
SPREAD = frozenset(("N", "P2O5", "K2O", "S"))
CHELATE = "iron_chelate"
IRON = frozenset(("Fe", CHELATE))
ORGANICS = frozenset(("compost", "manure"))
REFUSED = frozenset(("do_not", "none_needed", "not_suited"))


class Limit(NamedTuple):
    """The limit of a row, in millionths for comparing and as printed for showing."""

    value: int
    upper: int
    printed: Quantity | None


class Scene:
    """What triggers look at, gathered once: the case, what is recommended, what is asked for, what is put on."""

    __slots__ = (
        "calcareous",
        "case",
        "ece",
        "findings",
        "given",
        "iron",
        "materials",
        "metals",
        "open",
        "organics",
        "past",
        "refused",
        "sar",
        "site",
        "sodium",
        "spread",
        "wanted",
    )

    def __init__(
        self,
        case: Case,
        findings: tuple[Finding, ...],
        salinity: Salinity | None,
        sodium: Sodium | None,
        reaction: Reaction | None,
        recommendations: Iterable[Recommendation],
        materials: Iterable[str],
    ) -> None:
        site = case.submission.site
        given, refused, self.iron = set(), set(), False
        for kind, subject in [(item.kind, item.subject) for item in recommendations]:
            if kind in DOING:
                given.add(subject)
            elif kind in REFUSED:
                refused.add(subject)
            # A word on an iron figure ("watch the leaves") is no iron; the chelate and an amount are.
            if subject in IRON and (kind in DOING or (subject == CHELATE and kind not in REFUSED)):
                self.iron = True
        self.case, self.site, self.findings, self.sodium = case, site, findings, sodium
        self.given, self.wanted, self.refused = given, frozenset(site.requests), refused
        self.organics = _organics(site, given, refused)
        self.materials = frozenset(materials)
        self.past = self.materials.union([item.material for item in site.amended])
        # Fertilizer, manure or compost goes on the ground, by our advice or the client's habit.
        self.spread = not SPREAD.isdisjoint(given) or not ORGANICS.isdisjoint(self.organics)
        self.calcareous = reaction.calcareous if reaction else None
        self.ece = salinity.ece if salinity else None
        self.sar = sodium.sar if sodium else None
        self.metals = metals(case)
        self.open = self._open()

    def _open(self) -> set[str]:
        """Words of what is there: whatever waits for another word cannot be set off."""
        site, case = self.site, self.case
        water = site.irrigation_water
        found = {"any", *self.given, *self.wanted, *self.organics, *self.past, *case.by_analyte}
        flags = (
            ("water", bool(case.water)),
            ("well", site.well is not None),
            ("softened", water is not None and water.source == "softened"),
            ("surface_water", site.surface_water_distance is not None),
            ("livestock", case.submission.target.condition.livestock is True),
            ("children", site.children is True),
            ("slope", site.slope_pct is not None),
            ("ground", "ground" in site.observations),
            ("metals", bool(self.metals)),
            ("iron_given", self.iron),
            ("sodic", self.sodium is not None and self.sodium.sodium_class == "sodic"),
        )
        found.update([word for word, there in flags if there])
        return found

    @property
    def edible(self) -> bool:
        """Whether people eat what grows; a crop that nobody named counts as eaten."""
        crop = self.case.crop
        return crop is None or "edible" in crop.traits

    def soil(self, analyte: str, *methods: str) -> Measurement | None:
        """A trusted main-layer result."""
        return self.case.find(analyte, *methods)


def _organics(site: Site, given: set[str], refused: set[str]) -> set[str]:
    """Organic materials that are put on: planned, recommended, or asked for and not refused."""
    found = {item.material for item in site.organic_inputs}
    found.update([_class_of(material) for material in found])
    return found | (ORGANICS & given) | ((ORGANICS & set(site.requests)) - refused)


def _class_of(material: str) -> str:
    return "manure" if material.endswith("_manure") else material
