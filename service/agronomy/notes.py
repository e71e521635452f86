"""Messages before they are worded: a code with its values, and one line of reasoning."""

from collections.abc import Mapping
from typing import Any, NamedTuple

Values = Mapping[str, Any]
NOTHING: Values = {}


class Word(NamedTuple):
    """A word from a closed list inside a message, translated by the renderer: ``Word("rating", "high")``."""

    kind: str
    word: str


class Note(NamedTuple):
    """A message code with the values its sentence needs.

    Values may be numbers, strings, `Quantity`, `Word`, dates, or tuples of these.
    """

    code: str
    values: Values = NOTHING


class Step(NamedTuple):
    """One line of reasoning behind a number.

    Attributes:
        step: code of the step; the renderer has its sentence.
        formula: id of a row of the ``formulas`` table, or of the function's own name where no row applies.
        inputs: the figures that went in, by symbol.
        value: what came out.
        unit: unit of ``value``.
        sources: source ids.
    """

    step: str
    formula: str
    inputs: Values
    value: float | str | bool | None
    unit: str
    sources: tuple[str, ...] = ()
