"""The materials of a report: how much of what, in which doses, how to spread it, and why this one."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from service.agronomy.findings import Word
from service.render.layout import Paper
from service.render.text_figures import quantity
from service.render.words import Words

INDENT = "    "
type_of_json = Mapping[str, Any]


def materials(paper: Paper, answer: type_of_json, words: Words) -> None:
    """Every material with its doses, and what there is to say of the choice."""
    used = answer.get("materials") or ()
    notes = [note for note in answer.get("supply") or () if _worth_saying(note, words)]
    if not used and not notes:
        return
    paper.heading(words.text("report.materials"))
    for use in used:
        _material(paper, use, words)
    if notes:
        paper.gap()
        paper.items(note.get("text") or "" for note in notes)


def _worth_saying(note: type_of_json, words: Words) -> bool:
    """Materials of the tables that a rule keeps out are for the expert's view; the client's own are told here."""
    own = [name for name in note.get("materials") or () if not words.has(f"word.product.{name}")]
    return note.get("kind") != "left_out" or bool(own)


def _material(paper: Paper, use: type_of_json, words: Words) -> None:
    label = product(use, words)
    paper.pair(f"{label[:1].upper()}{label[1:]}", " ".join(filter(None, (_whole(use, words), use.get("why") or ""))))
    doses = use.get("per_application") or ()
    if len(doses) > 1:
        paper.items((_dose(dose, words) for dose in doses), indent=INDENT)
    paper.items(use.get("how") or (), indent=INDENT)


def _whole(use: type_of_json, words: Words) -> str:
    """The whole amount, in kitchen measures and bags where they are known, and what it gives."""
    parts = [_measured(use.get("amount"), use.get("household"), words)]
    bags = use.get("bags")
    if bags:
        told = {name: quantity(bags[name], words) for name in ("size", "left_over")}
        code = "report.material_bag" if bags["count"] == 1 else "report.material_bags"
        parts.append(words.text(code, {"count": bags["count"], **told}))
    if use.get("supplies"):
        gives = {"rate": quantity(use["supplies"], words), "subject": Word("subject", str(use.get("subject")))}
        parts.append(words.text("report.material_gives", gives))
    return f"{'; '.join(parts)}."


def _measured(amount: Any, household: str | None, words: Words) -> str:
    text = quantity(amount, words)
    return f"{text} ({household})" if household else text


def _dose(dose: type_of_json, words: Words) -> str:
    first = dose.get("from")
    values = {
        "when": dose.get("when") or "",
        "day": words.day(date.fromisoformat(str(first))) if first else "",
        "amount": _measured(dose.get("amount") or dose.get("rate"), dose.get("household"), words),
    }
    return words.text("report.material_dose_dated" if first else "report.material_dose", values)


def product(use: type_of_json, words: Words) -> str:
    """A material with its grade, which is told once: in full where its name ends with it in short."""
    code = str(use.get("material"))
    name = words.word("product", code) if words.has(f"word.product.{code}") else str(use.get("name") or code)
    grade = str(use.get("grade") or "")
    bare, _, last = name.rpartition(" ")
    if grade and grade.startswith(last):
        name = bare  # 0-0-50 of 0-0-50-17S, 10-10-10 of a product that is called by its grade
    return f"{name} {grade}".strip()
