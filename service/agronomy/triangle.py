"""The texture triangle: the class of three fractions and its neighbours.

A class is a set of linear inequalities on sand, silt and clay (percent of the fine earth), rows of
``texture-classes``; a point on a shared line belongs to the class that the rows give it.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from service.agronomy.errors import OutOfRange, TableError
from service.agronomy.reference import reference_of
from service.agronomy.tables import FeelRow, Library, TexturePropertyRow, TextureRow, weakest
from service.agronomy.units import SCALE, scaled

GROUPS = frozenset(("coarse", "medium", "fine"))
_AT_LEAST = {">=": True, ">": True, "<": False, "<=": False}


class Inequality(NamedTuple):
    """``sand * s + silt * i + clay * c`` is at least ``first``, or else at most ``last``, both in millionths."""

    sand: float
    silt: float
    clay: float
    first: int | None
    last: int | None


def _inequality(row: TextureRow) -> Inequality:
    bound = scaled(row.bound)
    if row.operator not in _AT_LEAST:
        raise TableError(f"texture-classes line {row.line}: operator {row.operator}")
    strict = 1 if row.operator in (">", "<") else 0
    if _AT_LEAST[row.operator]:
        return Inequality(row.sand, row.silt, row.clay, bound + strict, None)
    return Inequality(row.sand, row.silt, row.clay, None, bound - strict)


class Triangle:
    """The texture tables, prepared once: ``library.index(Triangle.of)``."""

    __slots__ = ("_classes", "feel", "marks", "near_points", "properties", "rows", "sources")

    def __init__(
        self,
        rows: Sequence[TextureRow],
        properties: Mapping[str, TexturePropertyRow],
        feel: Sequence[FeelRow],
        near_points: float,
    ) -> None:
        alternatives: dict[tuple[str, int], list[Inequality]] = {}
        sources: dict[str, tuple[str, ...]] = {}
        marks: dict[str, list[str]] = {}
        for row in rows:
            alternatives.setdefault((row.texture, row.alternative), []).append(_inequality(row))
            sources[row.texture] = tuple(dict.fromkeys((*sources.get(row.texture, ()), *row.sources)))
            marks.setdefault(row.texture, []).append(row.verification)
        self._classes = tuple((name, tuple(lines)) for (name, _), lines in alternatives.items())
        self.rows = rows
        self.sources = sources
        self.marks = {name: weakest(these) for name, these in marks.items()}
        self.properties = properties
        self.feel = feel
        self.near_points = near_points

    @classmethod
    def of(cls, library: Library) -> "Triangle":
        """Prepare ``texture-classes``, ``texture-properties`` and ``texture-feel``."""
        return cls(
            library.rows("texture-classes", TextureRow),
            {row.texture: row for row in library.rows("texture-properties", TexturePropertyRow)},
            library.rows("texture-feel", FeelRow),
            reference_of(library).factor("texture_near_points").value,
        )

    def classify(self, sand: float, silt: float, clay: float) -> str:
        """The class of a point of the triangle, percent. Raises OutOfRange outside the triangle."""
        if min(sand, silt, clay) < 0 or scaled(sand + silt + clay) != scaled(100):
            raise OutOfRange("sand, silt, clay", "three shares of 0 to 100 that add up to 100")
        for name, lines in self._classes:
            for a, b, c, first, last in lines:
                value = round((a * sand + b * silt + c * clay) * SCALE)
                if (first is not None and value < first) or (last is not None and value > last):
                    break
            else:
                return name
        raise TableError(f"texture-classes leaves a gap at {sand}, {silt}, {clay}")

    def near(self, sand: float, silt: float, clay: float, points: float | None = None) -> tuple[str, ...]:
        """Other classes within some percentage points: reached by moving them from one fraction to another."""
        reach = self.near_points if points is None else points
        point = (sand, silt, clay)
        found: dict[str, None] = {}
        for source in range(3):
            moved = min(reach, point[source])
            for target in range(3):
                if source != target:
                    shifted = list(point)
                    shifted[source] -= moved
                    shifted[target] += moved
                    found[self.classify(*shifted)] = None
        found.pop(self.classify(sand, silt, clay), None)
        return tuple(found)

    def group(self, texture: str) -> str:
        """coarse, medium, fine or unknown; a group word stands for itself."""
        if texture in GROUPS:
            return texture
        row = self.properties.get(texture)
        return row.group if row else "unknown"


def complete(sand: float | None, silt: float | None, clay: float | None) -> tuple[float, float, float]:
    """Three fractions, percent, that add up to 100: the third by difference, three rescaled.

    A missing fraction is only ever the difference of the other two, never zero.
    Raises OutOfRange when fewer than two are given, one is outside 0-100, or two exceed 100.
    """
    given = [x for x in (sand, silt, clay) if x is not None]
    if len(given) < 2:
        raise OutOfRange("sand, silt, clay", "at least two of the three")
    total = sum(given)
    fits = scaled(total) <= scaled(100) if len(given) == 2 else total > 0
    if not fits or not all(0 <= x <= 100 for x in given):
        raise OutOfRange("sand, silt, clay", "each 0 to 100, together 100")
    if len(given) == 2:
        rest = max(0.0, 100.0 - total)
        return (rest if sand is None else sand, rest if silt is None else silt, rest if clay is None else clay)
    factor = 1.0 if scaled(total) == scaled(100) else 100 / total
    return (given[0] * factor, given[1] * factor, given[2] * factor)
