"""Asks for single calculations as a checked request would."""

from pathlib import Path
from typing import Any

import yaml

from service.agronomy.calculations import CALCULATIONS, Answer, calculate
from service.agronomy.submission import Quantity
from service.agronomy.tables import Library
from service.agronomy.units import Units
from service.blending import solve

REFERENCES = Path(__file__).parent / "references"


def references(name: str) -> Any:
    """A file of published worked examples."""
    return yaml.safe_load((REFERENCES / f"{name}.yaml").read_text("utf-8"))


def ask(library: Library, name: str, **inputs: Any) -> Answer:
    """The answer; a pair is a quantity, ``from_`` is ``from``, None was not sent."""
    made = {
        key.rstrip("_"): Quantity(*value) if isinstance(value, tuple) else value
        for key, value in inputs.items()
        if value is not None
    }
    return calculate(CALCULATIONS[name], made, library, solve)


def result(library: Library, name: str, **inputs: Any) -> dict[str, Any]:
    """The result of a calculation that is given."""
    answer = ask(library, name, **inputs)
    assert answer.status == "given", answer.reasons
    return dict(answer.result)


def codes(answer: Answer) -> set[str]:
    """Codes of the warnings."""
    return {note.code for note in answer.warnings}


def in_unit(library: Library, quantity: Quantity, unit: str) -> float:
    """A quantity of an answer in another unit."""
    return library.index(Units.of).convert(quantity.value, quantity.unit, unit)
