"""What a gardener can see, read for what it is worth: symptoms and field tests at home.

A sign gets a practice or a next step beside it, never an amount. Kits and probes are set apart by the quality checks.
"""

from collections.abc import Callable, Iterable

from service.agronomy.findings import Note, Recommendation, Salinity, Sodium, Word
from service.agronomy.reaction import Reaction
from service.agronomy.sample import Case

PUDDLING = ("ponding", "slow_infiltration", "crusting")
BURN = ("leaf_tip_burn", "leaf_edge_burn")
PATCHY = ("bare_patches", "stunting", "poor_growth")
SALTY = frozenset(("slightly_saline", "moderately_saline", "strongly_saline"))
COMMON = ("practice",)


class Scene:
    """Case and what was made of salts, sodium and lime."""

    __slots__ = ("case", "limy", "salinity", "sodium", "symptoms")

    def __init__(self, case: Case, salinity: Salinity | None, sodium: Sodium | None, reaction: Reaction | None) -> None:
        self.case, self.salinity, self.sodium = case, salinity, sodium
        self.limy = reaction is not None and reaction.calcareous is True
        self.symptoms = case.submission.site.symptoms

    def seen(self, *signs: str) -> tuple[Word, ...]:
        """Those of the signs that the client reports, in the client's order."""
        return tuple(Word("symptom", sign) for sign in self.symptoms if sign in signs)

    @property
    def salt(self) -> str:
        """``high``, ``low`` or ``unknown``: an estimate that is not clearly high stays unknown."""
        found = self.salinity
        if found is None or found.ece is None:
            return "unknown"
        if found.salinity_class in SALTY:
            return "high"
        return "unknown" if found.ece.estimated else "low"


def read(
    case: Case, salinity: Salinity | None, sodium: Sodium | None, reaction: Reaction | None
) -> list[Recommendation]:
    """A practice for each sign reported; none of them carries an amount."""
    site = case.submission.site
    if not site.symptoms and not site.observations:
        return []
    scene = Scene(case, salinity, sodium, reaction)
    return [item for reading in READINGS for item in reading(scene)]


def _practice(subject: str, code: str, **values: object) -> Recommendation:
    return Recommendation("practice", subject, Note(code, values), sources=COMMON, verification="practice")


def _puddling(scene: Scene) -> Iterable[Recommendation]:
    seen = scene.seen(*PUDDLING)
    if not seen:
        return
    kind = scene.sodium.sodium_class if scene.sodium else "unknown"
    if kind == "unknown":
        yield _practice("drainage", "rec.puddling_sodium_unknown", seen=seen)
    elif kind == "nonsodic":
        yield _practice("drainage", "rec.puddling_not_sodium", seen=seen)
    else:
        yield _practice("drainage", "rec.puddling_fits_sodium", seen=seen)


def _white_crust(scene: Scene) -> Iterable[Recommendation]:
    if scene.seen("white_crust"):
        yield _practice("irrigation", f"rec.white_crust.{scene.salt}")


def _leaf_burn(scene: Scene) -> Iterable[Recommendation]:
    seen = scene.seen(*BURN)
    if seen:
        yield _practice("irrigation", f"rec.leaf_burn.{scene.salt}", seen=seen)


def _yellow_leaves(scene: Scene) -> Iterable[Recommendation]:
    if scene.seen("yellowing_new_leaves"):
        code = "rec.yellow_new_leaves_limy" if scene.limy else "rec.yellow_new_leaves"
        yield _practice("irrigation", code)
    if scene.seen("yellowing_old_leaves"):
        yield _practice("irrigation", "rec.yellow_old_leaves")


def _fruit_rot(scene: Scene) -> Iterable[Recommendation]:
    if scene.seen("blossom_end_rot"):
        yield _practice("irrigation", "rec.blossom_end_rot")


def _patchy(scene: Scene) -> Iterable[Recommendation]:
    seen = scene.seen(*PATCHY)
    if seen:
        yield _practice("resample", "rec.sample_good_and_bad", seen=seen)


def _vinegar(scene: Scene) -> Iterable[Recommendation]:
    """Vinegar shows much lime; silence shows nothing."""
    word = scene.case.submission.site.observations.get("vinegar_fizz")
    if word is None or scene.case.find("lime") is not None:
        return
    if word == "none":
        yield _practice("resample", "rec.vinegar_silent")
    elif word in ("slight", "strong"):
        yield _practice("lime", "rec.vinegar_fizzes")


READINGS: tuple[Callable[[Scene], Iterable[Recommendation]], ...] = (
    _puddling,
    _white_crust,
    _leaf_burn,
    _yellow_leaves,
    _fruit_rot,
    _patchy,
    _vinegar,
)
