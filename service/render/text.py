"""An interpretation as readable text: the homeowner's part first, then figures, reasons and sources.

Works on the JSON answer of the contract, so a stored record and a fresh answer read alike. Sentences in the answer
are already in its language; only headings and single words are said here.
"""

from collections.abc import Mapping
from datetime import date
from typing import Any

from service.agronomy.findings import Note, Word
from service.render.layout import Paper
from service.render.text_figures import figures, recommendations, salts, water
from service.render.text_materials import materials
from service.render.text_person import by_person, signed
from service.render.words import Words

URGENT = frozenset(("danger", "warning"))
LEFT_OUT = frozenset(("withhold", "hold", "refuse"))
type_of_json = Mapping[str, Any]


def report(answer: type_of_json, words: Words) -> str:
    """The whole report, 80 columns wide, in the language of ``words``."""
    paper = Paper()
    for part in (_head, _urgent, _lay_page, by_person, _reasons, figures, salts, water, recommendations, materials):
        part(paper, answer, words)
    for part in (_cautions, _not_assessed, _checks, _sources, _provenance):
        part(paper, answer, words)
    return str(paper)


def _head(paper: Paper, answer: type_of_json, words: Words) -> None:
    number = answer.get("number")
    title = words.text("report.title_numbered", {"number": number}) if number else words.text("report.title")
    paper.title(title, _day(answer.get("issued_at"), words))
    if answer.get("replaced_by"):
        paper.paragraph(words.text("report.replaced", {"number": str(answer["replaced_by"])}))
    for mark in ("voided", "recalled"):
        if (answer.get("standing") or {}).get(mark):
            paper.paragraph(words.text(f"report.{mark}"))
    if answer.get("crop"):
        paper.paragraph(words.text("report.crop", {"crop": Word("crop", answer["crop"])}))
    paper.paragraph(words.text(f"report.outcome.{answer.get('outcome')}"))


def _urgent(paper: Paper, answer: type_of_json, words: Words) -> None:
    urgent = [caution for caution in answer.get("cautions") or () if caution.get("severity") in URGENT]
    if urgent:
        paper.heading(words.text("report.urgent"))
        paper.items(caution_text(caution, words) for caution in urgent)


def _lay_page(paper: Paper, answer: type_of_json, words: Words) -> None:
    summary = answer.get("summary")
    if not summary:
        return
    paper.gap()
    paper.paragraph(summary.get("verdict") or "")
    for code, numbered in (("actions", True), ("do_not", False)):
        if summary.get(code):
            paper.heading(words.text(f"report.{code}"))
            paper.items(summary[code], numbered)
    paper.gap()
    paper.pair(words.text("report.retest"), words.month(summary.get("retest") or ""))
    paper.pair(words.text("report.contact"), summary.get("contact") or "")


def _reasons(paper: Paper, answer: type_of_json, words: Words) -> None:
    reasons = answer.get("reasons") or ()
    for code, wanted in (("reasons", True), ("remarks", False)):
        chosen = [reason for reason in reasons if (reason.get("severity") in LEFT_OUT) is wanted]
        if chosen:
            paper.heading(words.text(f"report.{code}"))
            paper.items(reason_text(reason) for reason in chosen)


def reason_text(reason: type_of_json) -> str:
    """A reason with what to send or order."""
    return f"{reason.get('message') or ''} {reason.get('ask') or ''}".strip()


def _cautions(paper: Paper, answer: type_of_json, words: Words) -> None:
    quiet = [caution for caution in answer.get("cautions") or () if caution.get("severity") not in URGENT]
    if quiet:
        paper.heading(words.text("report.cautions"))
        paper.items(caution_text(caution, words) for caution in quiet)


def caution_text(caution: type_of_json, words: Words) -> str:
    """A caution with its level and whom to ask."""
    consult = caution.get("consult")
    who = consult if isinstance(consult, str) else words.listing(tuple(consult or ()))
    ask = words.text("report.consult", {"who": who}) if consult else ""
    level = words.word("severity", str(caution.get("severity"))).upper()
    return f"{level}: {caution.get('text') or ''} {ask}".strip()


def _not_assessed(paper: Paper, answer: type_of_json, words: Words) -> None:
    missing = answer.get("not_assessed") or ()
    if missing:
        paper.heading(words.text("report.not_assessed"))
        for subject in missing:
            text = reason_text({"message": subject.get("why"), "ask": subject.get("ask")})
            paper.pair(words.word("subject", str(subject.get("subject"))), text)


def _checks(paper: Paper, answer: type_of_json, words: Words) -> None:
    checks = [check for check in answer.get("quality_checks") or () if check.get("status") != "not_possible"]
    if checks:
        paper.heading(words.text("report.quality_checks"))
        paper.items(f"{words.word('status', check['status'])}: {check.get('message') or ''}" for check in checks)


def _sources(paper: Paper, answer: type_of_json, words: Words) -> None:
    sources = answer.get("sources") or {}
    if sources:
        paper.heading(words.text("report.sources"))
        paper.items(
            f"[{key}] {source.get('citation')} {source.get('url') or ''}".strip() for key, source in sources.items()
        )


def _provenance(paper: Paper, answer: type_of_json, words: Words) -> None:
    provenance = answer.get("provenance") or {}
    if not provenance:
        return
    paper.heading(words.text("report.provenance"))
    editions: dict[str, list[str]] = {}
    for table in provenance.get("tables") or ():
        editions.setdefault(table["edition"], []).append(table["id"])
    tables = "; ".join(f"{edition}: {', '.join(names)}" for edition, names in editions.items())
    paper.pair(words.text("report.engine"), provenance.get("engine") or "")
    paper.pair(words.text("report.tables"), tables)
    paper.pair(words.text("report.fingerprint"), provenance.get("submission_sha256") or "")
    paper.pair(words.text("report.released_by"), signed(answer, words))
    paper.pair(words.text("report.disclaimer"), provenance.get("disclaimer") or "")


def _day(moment: Any, words: Words) -> str:
    if not moment:
        return ""
    day = words.day(date.fromisoformat(str(moment)[:10]))
    return words.say(Note("report.date", {"date": day}))
