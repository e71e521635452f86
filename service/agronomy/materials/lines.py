"""Chosen materials as lines of the lay page: how much of what to spread, in pounds and cups, and when."""

from collections.abc import Sequence
from typing import Any

from service.agronomy.findings import MaterialUse, Note, Recommendation, Word


def covered(item: Recommendation, materials: Sequence[MaterialUse]) -> bool:
    """Whether a nutrient comes whole with a material that is told under another one."""
    return (
        item.kind == "nutrient"
        and any(item.subject in use.serves for use in materials)
        and not any(item.subject == use.subject for use in materials)
    )


def to_spread(use: MaterialUse) -> Note:
    """One material as one line."""
    doses = use.per_application
    subjects = tuple(Word("subject", name) for name in use.serves)
    gives: Any = subjects
    if len(subjects) == 1 and use.supplies is not None:
        gives = Note("summary.gives", {"subject": subjects[0], "rate": use.supplies})
    values = {"amount": use.amount, "material": use.name, "gives": gives, "when": doses[0].when if doses else ""}
    if len(doses) <= 1:
        return Note("summary.spread", {**values, "measure": _measure(use.household)})
    first = doses[0]
    split = {"times": len(doses), "dose": first.amount or first.rate, "measure": _measure(first.household)}
    return Note("summary.spread_split", {**values, **split})


def _measure(household: Note | None) -> Note | str:
    return "" if household is None else Note("summary.measure", {"household": household})
