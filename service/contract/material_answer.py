"""The materials of an answer as the JSON of the contract."""

from collections.abc import Callable
from typing import Any

from service.agronomy.findings import Bags, MaterialDose, MaterialUse, Note, Step, SupplyNote, Word

type_of_json = dict[str, Any]
Say = Callable[[Note], str]
SayStep = Callable[[Step, Say], type_of_json]


def material(use: MaterialUse, say: Say, step: SayStep) -> type_of_json:
    """One material weighed out for the ground."""
    return {
        "subject": use.subject,
        "serves": use.serves,
        "material": use.material,
        "name": say(Note("material.name", {"name": use.name})) if isinstance(use.name, Word) else use.name,
        "grade": use.grade or None,
        "amount": use.amount,
        "rate": use.rate,
        "supplies": use.supplies,
        "per_application": [_dose(dose, say) for dose in use.per_application],
        "household": say(use.household) if use.household else None,
        "also_supplies": dict(use.also_supplies),
        "bags": _bags(use.bags) if use.bags else None,
        "how": [say(note) for note in use.how],
        "why": say(use.why),
        "code": use.why.code,
        "because": [step(each, say) for each in use.because],
        "sources": use.sources,
        "verification": use.verification,
    }


def _dose(dose: MaterialDose, say: Say) -> type_of_json:
    return {
        "when": say(dose.when),
        "amount": dose.amount,
        "rate": dose.rate,
        "household": say(dose.household) if dose.household else None,
        "from": dose.from_date,
        "to": dose.to_date,
    }


def _bags(bags: Bags) -> type_of_json:
    return {"count": bags.count, "size": bags.size, "left_over": bags.left_over}


def supply_note(note: SupplyNote, say: Say) -> type_of_json:
    """What there is to say of the choice as a whole."""
    return {
        "kind": note.kind,
        "text": say(note.text),
        "code": note.text.code,
        "materials": note.materials,
        "sources": note.sources,
        "verification": note.verification,
    }
