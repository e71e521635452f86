"""Warnings of harm to people, plants, soil and water: each once, the gravest first.

A caution follows from what was measured and from what the answer recommends; a report without either has none but
the note on the scope of the advice. Dated levels of metals are always the newest of the region.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from service.agronomy.errors import TableError
from service.agronomy.findings import NOTHING, Caution, Finding, Note, Recommendation, Salinity, Sodium, Water, Word
from service.agronomy.health import SEVERAL_SOURCES, SEVERITIES, Metal, former_levels, shown
from service.agronomy.reaction import Reaction
from service.agronomy.sample import Case
from service.agronomy.scene import Limit, Scene
from service.agronomy.submission import Quantity
from service.agronomy.tables import CautionRow, CropCaution, Library, SafetyLevelRow
from service.agronomy.triggers import TRIGGERS, Trigger
from service.agronomy.units import scaled

UNDECIDED = "metal_level_undecided"
FEDERAL = "federal"
SCOPE = "always"
"""Trigger of what every answer says, last of all."""


class Rule(NamedTuple):
    """One caution with its trigger and its limit, ready to run. ``order`` is its place in the table."""

    row: CautionRow
    limit: Limit
    trigger: Trigger
    order: int


class Rules:
    """The table ``cautions``, prepared once: ``library.index(Rules.of)``."""

    __slots__ = ("forbidding", "gated", "scope")

    def __init__(
        self, gated: Mapping[str, tuple[Rule, ...]], scope: tuple[Caution, ...], forbidding: frozenset[str]
    ) -> None:
        self.gated = gated
        self.scope = scope
        self.forbidding = forbidding

    @classmethod
    def of(cls, library: Library) -> "Rules":
        """Prepare the table. Raises TableError for a trigger word nobody wrote."""
        gated: dict[str, tuple[Rule, ...]] = {}
        rows = library.rows("cautions", CautionRow)
        for order, row in enumerate(rows):
            words, trigger = _trigger(row)
            rule = Rule(row, _limit(row), trigger, order)
            for word in words:
                gated[word] = (*gated.get(word, ()), rule)
        scope = tuple(_caution(row, NOTHING) for row in rows if row.trigger == SCOPE)
        return cls(gated, scope, frozenset(row.caution for row in rows if row.do_not))


def _trigger(row: CautionRow) -> tuple[tuple[str, ...], Trigger]:
    if row.trigger not in TRIGGERS:
        raise TableError(f"cautions, line {row.line}: no trigger {row.trigger!r}")
    return TRIGGERS[row.trigger]


def _limit(row: CautionRow) -> Limit:
    printed = None if row.value is None else Quantity(row.value, row.unit)
    return Limit(scaled(row.value or 0.0), scaled(row.upper or 0.0), printed)


def gather(
    case: Case,
    findings: tuple[Finding, ...],
    salinity: Salinity | None,
    sodium: Sodium | None,
    reaction: Reaction | None,
    water: Water | None,  # noqa: ARG001 - the figures of the water are read from the case; no hazard class sets off a caution
    recommendations: Sequence[Recommendation],
    materials: Iterable[str] = (),
) -> tuple[Caution, ...]:
    """Every caution that this case and this advice set off.

    Args:
        recommendations: what is really recommended, after the caps; refused and withheld things set off nothing.
        materials: ids of materials that the answer names.

    Raises:
        TableError: the table names a trigger that the core does not know.
    """
    rules = case.library.index(Rules.of)
    scene = Scene(case, findings, salinity, sodium, reaction, recommendations, materials)
    fired = []
    for word in scene.open.intersection(rules.gated):
        for row, limit, trigger, order in rules.gated[word]:
            values = trigger(scene, limit)
            if values is not None:
                fired.append((order, _caution(row, values)))
    fired.sort(key=_place)
    own = [_of_crop(item) for item in case.crop.cautions] if case.crop else []
    found = [*_metals(case, scene.metals), *own, *[caution for _, caution in fired], *rules.scope]
    found.sort(key=_gravest_first)
    once: dict[str, Caution] = {}
    for caution in found:
        once.setdefault(caution.code, caution)
    return tuple(once.values())


UREA_LOSS = "urea_loss"
UREA = ("urea", "uan")
"""How the ids of materials begin whose nitrogen is lost as urea from the surface; a coat keeps it in."""


def fitting(warned: tuple[Caution, ...], materials: Iterable[str]) -> tuple[Caution, ...]:
    """The cautions without the one on urea, where materials were chosen and none of them is urea."""
    chosen = tuple(materials)
    if not chosen or any(name.startswith(UREA) for name in chosen):
        return warned
    return tuple(caution for caution in warned if caution.code != UREA_LOSS)


def _place(item: tuple[int, Caution]) -> int:
    return item[0]


def _gravest_first(item: Caution) -> int:
    return -SEVERITIES.index(item.severity)


def _caution(row: CautionRow, values: Mapping[str, Any]) -> Caution:
    return Caution(row.caution, row.severity, values, row.consult, row.sources, row.verification)


def _of_crop(own: CropCaution) -> Caution:
    return Caution(own.code, own.severity, NOTHING, (), own.sources, own.verification)


def _metals(case: Case, found: tuple[Metal, ...]) -> list[Caution]:
    return [caution for metal in found for caution in _of_metal(case, metal)]


def _of_metal(case: Case, metal: Metal) -> list[Caution]:
    """The cautions of the levels reached; of the lowest one where a person must look and none is surely reached."""
    # The lowest level holds *at* its figure even where the source says *above*; the same caution is given once.
    rows = [*metal.reached, metal.at] if metal.at is not None else list(metal.reached)
    if rows or metal.hold is None:
        return [_of_level(case, metal, row, row.caution) for row in rows]
    return [_of_level(case, metal, metal.hold, UNDECIDED)]


def _of_level(case: Case, metal: Metal, row: SafetyLevelRow, code: str) -> Caution:
    values = {
        "metal": Word("analyte", row.analyte),
        "value": shown(metal.measurement),
        "level": Quantity(row.value, row.unit),
        "since": row.in_force_from,
        "edition": row.table.edition,
        "region": row.region or Word("region", FEDERAL),
        "before": _before(former_levels(case, row)),
    }
    return Caution(code, row.severity, values, row.consult, row.sources, row.verification)


def _before(former: Sequence[SafetyLevelRow]) -> Note:
    """The older levels in one message; a level that changed is named with the one it took over from."""
    said = Note("caution.level_newest")
    for old in former:
        code = "caution.level_before_several" if old.when == SEVERAL_SOURCES else "caution.level_before"
        values = {"level": Quantity(old.value, old.unit), "since": old.in_force_from, "until": old.replaced_on}
        said = Note("caution.level_both", {"first": said, "second": Note(code, values)})
    return said


def forbidding(library: Library) -> frozenset[str]:
    """Codes of the cautions that are also a firm *do not*."""
    return library.index(Rules.of).forbidding
