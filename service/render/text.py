"""An interpretation as readable text: the homeowner's part first, then figures, reasons and sources.

Works on the JSON answer of the contract, so a stored record and a fresh answer read alike. Sentences in the answer
are already in its language; only headings and single words are said here.
"""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from service.agronomy.findings import Note, Word
from service.agronomy.submission import Quantity
from service.render.layout import Paper
from service.render.words import Words

URGENT = frozenset(("danger", "warning"))
LEFT_OUT = frozenset(("withhold", "hold", "refuse"))
type_of_json = Mapping[str, Any]


def report(answer: type_of_json, words: Words) -> str:
    """The whole report, 80 columns wide, in the language of ``words``."""
    paper = Paper()
    for part in (_head, _urgent, _lay_page, _reasons, _figures, _salts, _water, _recommendations, _materials):
        part(paper, answer, words)
    for part in (_cautions, _not_assessed, _checks, _sources, _provenance):
        part(paper, answer, words)
    return str(paper)


def quantity(value: Any, words: Words) -> str:
    """A ``{"value", "unit"}`` object, a bare number or a word, as people read it."""
    if isinstance(value, Mapping):
        number = value.get("value")
        if isinstance(number, (int, float)):
            return words.quantity(Quantity(number, str(value.get("unit") or "")))
        return words.value(number)
    return words.value(value)


def limits(band: type_of_json | None, words: Words) -> str:
    """The limits of a class: ``25 to 40 mg/kg``."""
    if not band:
        return ""
    lower, upper = band.get("lower"), band.get("upper")
    unit = str(band.get("unit") or "")
    values = {"lower": lower, "upper": upper, "unit": "" if unit in ("1", "pH") else words.unit(unit)}
    code = "report.range" if None not in (lower, upper) else "report.below" if lower is None else "report.from"
    return "" if lower is None and upper is None else " ".join(words.text(code, values).split())


def _head(paper: Paper, answer: type_of_json, words: Words) -> None:
    number = answer.get("number")
    title = words.text("report.title_numbered", {"number": number}) if number else words.text("report.title")
    paper.title(title, _day(answer.get("issued_at"), words))
    if answer.get("replaced_by"):
        paper.paragraph(words.text("report.replaced", {"number": str(answer["replaced_by"])}))
    if answer.get("crop"):
        paper.paragraph(words.text("report.crop", {"crop": Word("crop", answer["crop"])}))
    paper.paragraph(words.text(f"report.outcome.{answer.get('outcome')}"))


def _urgent(paper: Paper, answer: type_of_json, words: Words) -> None:
    urgent = [caution for caution in answer.get("cautions") or () if caution.get("severity") in URGENT]
    if urgent:
        paper.heading(words.text("report.urgent"))
        paper.items(_caution(caution, words) for caution in urgent)


def _lay_page(paper: Paper, answer: type_of_json, words: Words) -> None:
    summary = answer.get("summary")
    if not summary:
        return
    paper.paragraph("")
    paper.paragraph(summary.get("verdict") or "")
    for code, numbered in (("actions", True), ("do_not", False)):
        if summary.get(code):
            paper.heading(words.text(f"report.{code}"))
            paper.items(summary[code], numbered)
    paper.paragraph("")
    paper.pair(words.text("report.retest"), words.month(summary.get("retest") or ""))
    paper.pair(words.text("report.contact"), summary.get("contact") or "")


def _reasons(paper: Paper, answer: type_of_json, words: Words) -> None:
    reasons = answer.get("reasons") or ()
    for code, wanted in (("reasons", True), ("remarks", False)):
        chosen = [reason for reason in reasons if (reason.get("severity") in LEFT_OUT) is wanted]
        if chosen:
            paper.heading(words.text(f"report.{code}"))
            paper.items(_reason(reason, words) for reason in chosen)


def _reason(reason: type_of_json, words: Words) -> str:
    ask = words.text("report.ask", {"ask": reason["ask"]}) if reason.get("ask") else ""
    return f"{reason.get('message') or ''} {ask}".strip()


def _figures(paper: Paper, answer: type_of_json, words: Words) -> None:
    findings = answer.get("findings") or ()
    if not findings:
        return
    paper.heading(words.text("report.figures"))
    head = [words.text(f"report.{column}") for column in ("figure", "value", "meaning", "class")]
    paper.table(head, (_figure(finding, words) for finding in findings), (22, 14, 20))


def _figure(finding: type_of_json, words: Words) -> tuple[str, str, str, str]:
    analyte = words.word("analyte", str(finding.get("analyte")))
    method = finding.get("method")
    name = f"{analyte}, {words.word('method', method)}" if method else analyte
    if finding.get("depth_in"):
        top, bottom = finding["depth_in"]
        name = f"{name}, {words.text('report.depth', {'top': top, 'bottom': bottom})}"
    value = f"{finding.get('qualifier') or ''} {quantity(finding.get('reported'), words)}".strip()
    if finding.get("status") != "rated" or not finding.get("rating"):
        return name, value, words.word("status", str(finding.get("status"))), finding.get("why") or ""
    meaning = words.word("rating", finding["rating"])
    near = finding.get("borderline")
    if near:
        values = {"rating": Word("rating", near["other_rating"]), "percent": round(100 * near["probability"])}
        meaning = f"{meaning}; {words.text('report.borderline', values)}"
    return name, value, meaning, limits(finding.get("class"), words)


def _salts(paper: Paper, answer: type_of_json, words: Words) -> None:
    salinity, sodium, texture = (answer.get(part) or {} for part in ("salinity", "sodium", "texture"))
    if not (salinity or sodium or texture):
        return
    paper.heading(words.text("report.salts"))
    for label, text in (*_salinity(salinity, words), *_sodium(sodium, words)):
        paper.pair(words.text(f"report.{label}"), text)
    if texture:
        paper.pair(words.text("report.texture"), words.word("texture", texture.get("class") or ""))
    for part in (salinity, sodium, texture):
        paper.items(part.get("notes") or ())


def _salinity(salinity: type_of_json, words: Words) -> Iterable[tuple[str, str]]:
    ece = salinity.get("ECe")
    if ece:
        yield "ece", _ece(ece, words)
    if salinity.get("class"):
        yield "salinity_class", words.word("salinity_class", salinity["class"])
    percent = salinity.get("relative_yield_pct")
    if percent is not None:
        yield "relative_yield", words.text("report.relative_yield_value", {"percent": round(percent)})
    plants = [_plant(plant, words) for plant in salinity.get("alternatives") or ()]
    if plants:
        yield "alternatives", words.listing(tuple(plants))
    leaching = salinity.get("leaching")
    if leaching:
        yield "leaching", words.text("report.leaching_value", {"depth": quantity(leaching.get("depth"), words)})
        yield "conditions", " ".join(leaching.get("conditions") or ())


def _plant(plant: type_of_json, words: Words) -> str:
    values = {"plant": Word("crop", plant["crop"]), "percent": round(plant["relative_yield_pct"])}
    return words.text("report.better_plants", values)


def _ece(ece: type_of_json, words: Words) -> str:
    value = quantity(ece, words)
    span = ece.get("range")
    if not ece.get("estimated") or not span:
        return value
    low, high = (span["low"], span["high"]) if isinstance(span, Mapping) else span
    return words.text("report.ece_estimated", {"value": value, "low": low, "high": high})


def _sodium(sodium: type_of_json, words: Words) -> Iterable[tuple[str, str]]:
    if sodium.get("SAR") is not None:
        yield "sar", words.value(sodium["SAR"])
    esp = sodium.get("ESP")
    if esp:
        yield "esp", words.text("report.esp_value", {"value": esp["value"], "how": Word("esp_how", esp["how"])})
    for name in ("class", "soil_class"):
        if sodium.get(name):
            kind = "sodium_class" if name == "class" else name
            yield kind, words.word(kind, sodium[name])
    gypsum = sodium.get("gypsum")
    if gypsum:
        yield "gypsum", gypsum.get("text") or quantity(gypsum.get("rate"), words)


def _water(paper: Paper, answer: type_of_json, words: Words) -> None:
    water = answer.get("water")
    if not water:
        return
    paper.heading(words.text("report.water"))
    for hazard in water.get("hazards") or ():
        text = f"{quantity(hazard.get('value'), words)}: {words.word('restriction', hazard['restriction'])}"
        paper.pair(words.word("problem", hazard["problem"]), text)
    paper.items(water.get("notes") or ())


def _recommendations(paper: Paper, answer: type_of_json, words: Words) -> None:
    recommendations = answer.get("recommendations") or ()
    if recommendations:
        paper.heading(words.text("report.recommendations"))
    for recommendation in recommendations:
        paper.paragraph("")
        kind, subject = (words.word(name, str(recommendation.get(name))) for name in ("kind", "subject"))
        paper.paragraph(f"{subject[:1].upper()}{subject[1:]} ({kind})")
        paper.paragraph(recommendation.get("text") or "", "  ")
        _amount(paper, recommendation, words)
        _steps(paper, recommendation, words)
        _marks(paper, recommendation, words)


def _amount(paper: Paper, recommendation: type_of_json, words: Words) -> None:
    for name in ("rate", "for_area"):
        if recommendation.get(name):
            paper.pair(words.text(f"report.{name}"), quantity(recommendation[name], words), "  ")
    for dose in recommendation.get("applications") or ():
        limit = f" ({dose['limit']})" if dose.get("limit") else ""
        paper.pair(words.text("report.dose"), f"{quantity(dose.get('rate'), words)}, {dose['when']}{limit}", "  ")


def _steps(paper: Paper, recommendation: type_of_json, words: Words) -> None:
    steps = recommendation.get("because") or ()
    if steps:
        paper.paragraph(f"{words.text('report.because')}:", "  ")
        paper.items((_step(step, words) for step in steps), numbered=True, indent="    ")


def _step(step: type_of_json, words: Words) -> str:
    inputs = ", ".join(f"{name} = {quantity(value, words)}" for name, value in (step.get("inputs") or {}).items())
    out = quantity({"value": step.get("value"), "unit": step.get("unit")}, words)
    return f"{step['step']} {inputs} → {out}" if inputs else f"{step['step']} → {out}"


def _marks(paper: Paper, recommendation: type_of_json, words: Words) -> None:
    if recommendation.get("sources"):
        paper.paragraph(words.text("report.source_marks", {"sources": ", ".join(recommendation["sources"])}), "  ")
    if recommendation.get("verification"):
        mark = Word("verification", recommendation["verification"])
        paper.paragraph(words.text("report.verification", {"mark": mark}), "  ")


def _materials(paper: Paper, answer: type_of_json, words: Words) -> None:
    materials = answer.get("materials") or ()
    if not materials:
        return
    paper.heading(words.text("report.materials"))
    for material in materials:
        name = words.word("product", str(material.get("material")))
        text = f"{material.get('grade') or ''} {quantity(material.get('amount'), words)}".strip()
        household = f"; {material['household']}" if material.get("household") else ""
        paper.pair(name, text + household)


def _cautions(paper: Paper, answer: type_of_json, words: Words) -> None:
    quiet = [caution for caution in answer.get("cautions") or () if caution.get("severity") not in URGENT]
    if quiet:
        paper.heading(words.text("report.cautions"))
        paper.items(_caution(caution, words) for caution in quiet)


def _caution(caution: type_of_json, words: Words) -> str:
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
            text = _reason({"message": subject.get("why"), "ask": subject.get("ask")}, words)
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
    tables = ", ".join(f"{table['id']} {table['edition']}" for table in provenance.get("tables") or ())
    released_by = provenance.get("released_by")
    paper.pair(words.text("report.engine"), provenance.get("engine") or "")
    paper.pair(words.text("report.tables"), tables)
    paper.pair(words.text("report.fingerprint"), provenance.get("submission_sha256") or "")
    paper.pair(words.text("report.released_by"), words.text(f"report.released_by.{released_by}") if released_by else "")
    paper.pair(words.text("report.disclaimer"), provenance.get("disclaimer") or "")


def _day(moment: Any, words: Words) -> str:
    if not moment:
        return ""
    day = words.day(date.fromisoformat(str(moment)[:10]))
    return words.say(Note("report.date", {"date": day}))
