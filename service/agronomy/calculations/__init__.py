"""The single calculations of the contract, each with its steps: the same functions that the interpretation uses.

A calculation declares its inputs as data, so that the request schema, the documentation and the checks come from one
place. It obeys the same caps and always-a-person rules: what may not leave unread comes as ``withheld``.
"""

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from service.agronomy.findings import Note, Reason, Step
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library


class Input(NamedTuple):
    """One field of a calculation's request.

    ``kind``: number, quantity, integer, boolean, word (one of ``words``), text, quantities (object of name ->
    quantity), prices (object of name -> number), readings (hydrometer), words (list), or ``any``.
    Bounds are inclusive unless ``exclusive_minimum``/``exclusive_maximum`` is set.
    """

    name: str
    kind: str
    doc: str
    required: bool = True
    words: tuple[str, ...] = ()
    minimum: float | None = None
    maximum: float | None = None
    exclusive_minimum: bool = False
    exclusive_maximum: bool = False
    example: Any = None


class Answer(NamedTuple):
    """``result`` holds numbers, strings, booleans, `Quantity` or None, and mappings or tuples of these."""

    result: Mapping[str, Any]
    steps: tuple[Step, ...] = ()
    warnings: tuple[Note, ...] = ()
    reasons: tuple[Reason, ...] = ()
    status: str = "given"


class Calculation(NamedTuple):
    """One named calculation. ``run`` may raise `AgronomyError`; the caller turns it into a problem document."""

    name: str
    doc: str
    inputs: tuple[Input, ...]
    run: Callable[[Mapping[str, Any], Library], Answer]


__all__ = ["Answer", "Calculation", "Input", "Quantity"]
