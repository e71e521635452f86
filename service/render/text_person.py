"""What a soil scientist changed in a report and added to it, and who let it out."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from service.agronomy.findings import Note, Word
from service.render.layout import Paper
from service.render.text_figures import quantity
from service.render.words import Words

type_of_json = Mapping[str, Any]


def by_person(paper: Paper, answer: type_of_json, words: Words) -> None:
    """Each changed amount with the one before and the reason, then the sentences that were added."""
    edited, remarks = answer.get("edited") or (), answer.get("remarks") or ()
    if edited or remarks:
        paper.heading(words.text("report.by_person"))
        paper.items([*(_edit(edit, words) for edit in edited), *(remark["text"] for remark in remarks)])


def _edit(edit: type_of_json, words: Words) -> str:
    was, now = edit["was"], edit["now"]
    how = "left_out" if now is None else "added" if was is None else "changed"
    amounts = {name: quantity(amount, words) for name, amount in (("was", was), ("now", now)) if amount}
    return words.say(
        Note(f"report.edit_{how}", {"subject": Word("subject", edit["subject"]), "why": edit["reason"], **amounts})
    )


def signed(answer: type_of_json, words: Words) -> str:
    """Who let the report out: the rules, or a person by the name of their key, and when. Blank for nobody."""
    provenance = answer["provenance"]
    released_by, key = provenance.get("released_by"), provenance.get("authorized_by")
    if not released_by:
        return ""
    who = words.text(f"report.released_by.{released_by}")
    if not key or not answer.get("issued_at"):
        return who
    day = words.day(date.fromisoformat(str(answer["issued_at"])[:10]))
    return words.text("report.signed", {"who": who, "key": key, "day": day})
