"""A fertilizer's grade as on the bag, such as 21-0-0-24S, and whether it can be."""

from collections.abc import Mapping

from service.agronomy.errors import AgronomyError
from service.agronomy.units import ATOMIC_MASS, scaled

MACRO = ("N", "P2O5", "K2O")
SUPPLIED = (*MACRO, "S", "Ca", "Mg", "Zn", "Fe", "Mn", "Cu", "B")
_M = ATOMIC_MASS
WORTH_NAMING = 5.0
"""Sulfur, percent, from which it stands in a grade: less is no reason to buy. How a grade is written, not a rule."""
UREA_N_PCT = 100 * 2 * _M["N"] / (4 * _M["H"] + 2 * _M["N"] + _M["C"] + _M["O"])
"""Nitrogen in pure urea: the most that a dry fertilizer can hold."""
AMMONIUM_N_PCT = 100 * 2 * _M["N"] / (2 * _M["N"] + 4 * _M["H"] + 3 * _M["O"])
"""Nitrogen in pure ammonium nitrate, the richest of the ammonium salts of fertilizers."""
AMMONIA_N_PCT = 100 * _M["N"] / (_M["N"] + 3 * _M["H"])
"""Nitrogen in pure ammonia: the most that any fertilizer can hold."""
CHLORIDE_K2O_PCT = 100 * (2 * _M["K"] + _M["O"]) / (2 * (_M["K"] + _M["Cl"]))
"""K2O in pure potassium chloride, the richest of the usual potassium salts."""


class GradeError(AgronomyError):
    """A grade that cannot be read or cannot be: ``code`` for programs, ``expected`` says what would be right."""

    def __init__(self, code: str, expected: str) -> None:
        super().__init__(f"{code}, {expected}")
        self.code, self.expected = code, expected


def grade_of(text: str) -> dict[str, float]:
    """N, P2O5 and K2O of ``"21-0-0"``, and S of ``"21-0-0-24S"``, percent. Raises GradeError."""
    parts = text.strip().split("-")
    names: tuple[str, ...] = MACRO
    if len(parts) == len(MACRO) + 1 and parts[-1][-1:] in ("S", "s"):
        parts[-1] = parts[-1][:-1]
        names = (*MACRO, "S")
    if len(parts) != len(names) or not all(_plain(part) for part in parts):
        raise GradeError("not_a_grade", "N-P2O5-K2O such as 21-0-0, or 21-0-0-24S")
    return {name: float(part) for name, part in zip(names, parts, strict=True)}


def _plain(part: str) -> bool:
    whole, _, decimals = part.strip().partition(".")
    return whole.isdecimal() and whole.isascii() and (decimals == "" or (decimals.isdecimal() and decimals.isascii()))


def possible_grade(text: str) -> dict[str, float]:
    """The shares that are not zero, of a grade that can be. Raises GradeError."""
    analysis = grade_of(text)
    if scaled(sum(analysis.values())) > scaled(100):
        raise GradeError("grade_over_100", "shares that add up to at most 100")
    if analysis["N"] > AMMONIA_N_PCT:
        raise GradeError("grade_impossible", f"at most {AMMONIA_N_PCT:.1f} % N, that of pure ammonia")
    return {nutrient: share for nutrient, share in analysis.items() if share > 0}


def written(analysis: Mapping[str, float]) -> str:
    """A grade from an analysis in percent: ``46-0-0``, ``21-0-0-24S``; blank for what holds none of the three."""
    if not any(analysis.get(name) for name in MACRO):
        return ""
    main = "-".join(f"{analysis.get(name, 0.0):g}" for name in MACRO)
    sulfur = analysis.get("S", 0.0)
    return f"{main}-{sulfur:g}S" if sulfur >= WORTH_NAMING else main
