"""What the triggers of cautions look at: the case, what is recommended, asked for and put on the ground."""

from collections.abc import Iterable
from typing import NamedTuple

from service.agronomy.findings import Finding, Recommendation, Salinity, Sodium
from service.agronomy.reaction import Reaction
from service.agronomy.sample import Case, Measurement
from service.agronomy.submission import Quantity

DOING = frozenset(("nutrient", "amendment"))
SPREAD = frozenset(("N", "P2O5", "K2O", "S"))
IRON = frozenset(("Fe", "iron_chelate"))
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
        "organics",
        "past",
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
        given, refused, iron = set(), set(), False
        for item in recommendations:
            if item.kind in DOING:
                given.add(item.subject)
            elif item.kind in REFUSED:
                refused.add(item.subject)
            iron = iron or (item.subject in IRON and item.kind in ("nutrient", "amendment", "practice"))
        self.case, self.findings, self.sodium = case, findings, sodium
        self.site = case.submission.site
        self.given, self.iron = given, iron
        self.wanted = frozenset(self.site.requests)
        planned = {_class_of(item.material) for item in self.site.organic_inputs}
        planned.update(item.material for item in self.site.organic_inputs)
        self.organics = planned | (ORGANICS & given) | ((ORGANICS & self.wanted) - refused)
        self.materials = frozenset(materials)
        self.past = self.materials | {item.material for item in self.site.amended}
        # Fertilizer, manure or compost goes on the ground, by our advice or the client's habit.
        self.spread = not SPREAD.isdisjoint(given) or not ORGANICS.isdisjoint(self.organics)
        self.calcareous = reaction.calcareous if reaction else None
        self.ece = salinity.ece if salinity else None
        self.sar = sodium.sar if sodium else None

    @property
    def edible(self) -> bool:
        """Whether people eat what grows; a crop that nobody named counts as eaten."""
        crop = self.case.crop
        return crop is None or "edible" in crop.traits

    def soil(self, analyte: str, *methods: str) -> Measurement | None:
        """A trusted main-layer result."""
        return self.case.find(analyte, *methods)


def _class_of(material: str) -> str:
    return "manure" if material.endswith("_manure") else material
