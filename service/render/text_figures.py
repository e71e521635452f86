"""The tables and arithmetic of the text report: figures, salts and sodium, water, recommendations with their steps."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from service.agronomy.findings import Word
from service.agronomy.submission import Quantity
from service.render.layout import Paper
from service.render.rates import also_metric
from service.render.words import UNITLESS, Words

type_of_json = Mapping[str, Any]


def quantity(value: Any, words: Words) -> str:
    """A ``{"value", "unit"}`` object, a bare number or a word, as people read it."""
    if isinstance(value, Mapping):
        number = value.get("value")
        if isinstance(number, (int, float)) and not isinstance(number, bool):
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


def figures(paper: Paper, answer: type_of_json, words: Words) -> None:
    """Every result with its class, its limits and what else it was used for."""
    findings = answer.get("findings") or ()
    if not findings:
        return
    paper.heading(words.text("report.figures"))
    head = [words.text(f"report.{column}") for column in ("figure", "value", "meaning", "class")]
    layered = len({tuple(finding.get("depth_in") or ()) for finding in findings}) > 1
    paper.table(head, (figure_row(finding, layered, words) for finding in findings), (22, 14, 20))


def figure_row(finding: type_of_json, layered: bool, words: Words) -> tuple[str, str, str, str]:
    """One result: its name, its value, what it means, the limits of its class or why it has none."""
    value = f"{finding.get('qualifier') or ''} {_reported(finding, words)}".strip()
    if finding.get("status") != "rated" or not finding.get("rating"):
        status = "" if used_elsewhere(finding) else words.word("status", str(finding.get("status")))
        return _figure_name(finding, layered, words), value, status, finding.get("why") or ""
    meaning = words.word("rating", finding["rating"])
    near = finding.get("borderline")
    if near:
        values = {"rating": Word("rating", near["other_rating"]), "percent": round(100 * near["probability"])}
        meaning = f"{meaning}; {words.text('report.borderline', values)}"
    return _figure_name(finding, layered, words), value, meaning, limits(finding.get("class"), words)


def _reported(finding: type_of_json, words: Words) -> str:
    """The figure as it was sent; a class word (``sandy_loam``, ``strong``) in the reader's language."""
    reported = finding.get("reported")
    word = reported.get("value") if isinstance(reported, Mapping) else None
    if not isinstance(word, str):
        return _as_sent(reported, words)
    kind = "texture" if finding.get("analyte") == "texture" else "fizz"
    return words.word(kind, word) if words.has(f"word.{kind}.{word}") else word


def _as_sent(reported: Any, words: Words) -> str:
    """A figure in the laboratory's own spelling of its unit: ``4 mmho/cm``, not its name."""
    unit = reported.get("unit") if isinstance(reported, Mapping) else None
    number = reported.get("value") if isinstance(reported, Mapping) else None
    if not isinstance(number, (int, float)) or isinstance(number, bool) or not unit or str(unit) in UNITLESS:
        return quantity(reported, words)
    return f"{words.number(number)} {unit}"


def _figure_name(finding: type_of_json, layered: bool, words: Words) -> str:
    parts = [words.word("analyte", str(finding.get("analyte")))]
    if finding.get("method"):
        parts.append(words.word("method", finding["method"]))
    if layered and finding.get("depth_in"):
        top, bottom = finding["depth_in"]
        parts.append(words.text("report.depth", {"top": top, "bottom": bottom}))
    return ", ".join(parts)


def used_elsewhere(finding: type_of_json) -> bool:
    """Whether a figure has no class of its own because another part of the report rests on it."""
    return str(finding.get("code") or "").startswith("finding.used_for_")


def salts(paper: Paper, answer: type_of_json, words: Words) -> None:
    """Salts, sodium and texture, and what they do to this plant."""
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
    name, percent = Word("crop", plant["crop"]), plant["relative_yield_pct"]
    if percent is None:
        rated = {"plant": name, "rating": Word("salt_rating", plant["rating"])}
        return words.text("report.better_plants_rated", rated)
    return words.text("report.better_plants", {"plant": name, "percent": round(percent)})


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
        yield "gypsum", _dose(gypsum, words)


def _dose(recommendation: type_of_json, words: Words) -> str:
    """Rate and total in one line; the sentence where there is no rate."""
    rate, total = recommendation.get("rate"), recommendation.get("for_area")
    if not rate:
        return recommendation.get("text") or ""
    if not total:
        return quantity(rate, words)
    return words.text("report.rate_and_total", {"rate": quantity(rate, words), "total": quantity(total, words)})


def water(paper: Paper, answer: type_of_json, words: Words) -> None:
    """The irrigation water, one line for each problem."""
    water = answer.get("water")
    if not water:
        return
    paper.heading(words.text("report.water"))
    for hazard in water.get("hazards") or ():
        text = f"{quantity(hazard.get('value'), words)}: {words.word('restriction', hazard['restriction'])}"
        paper.pair(words.word("problem", hazard["problem"]), text)
    paper.items(water.get("notes") or ())


def recommendations(paper: Paper, answer: type_of_json, words: Words) -> None:
    """Every recommendation with its doses, its arithmetic and its sources."""
    recommendations = answer.get("recommendations") or ()
    if recommendations:
        paper.heading(words.text("report.recommendations"))
    for recommendation in recommendations:
        paper.gap()
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
        when = f"{dose['when']}{_days(dose, words)}{limit}"
        paper.pair(words.text("report.dose"), f"{quantity(dose.get('rate'), words)}, {when}", "  ")
    for line in dict.fromkeys(
        line for dose in recommendation.get("applications") or () for line in dose.get("how") or ()
    ):
        paper.paragraph(line, "  ")


def _days(dose: type_of_json, words: Words) -> str:
    """The first and the last day of a dose, where the answer names them."""
    days = [dose.get(end) for end in ("from", "to")]
    return "".join(f" – {words.day(date.fromisoformat(str(day)[:10]))}" for day in days if day).replace(" – ", ", ", 1)


def _steps(paper: Paper, recommendation: type_of_json, words: Words) -> None:
    steps = recommendation.get("because") or ()
    if steps:
        paper.paragraph(f"{words.text('report.because')}:", "  ")
        unit = str((recommendation.get("rate") or {}).get("unit") or "")
        paper.items((_step(step, unit, words) for step in steps), numbered=True, indent="    ")


def _step(step: type_of_json, unit: str, words: Words) -> str:
    """A step as its source counts; a result in pounds also in the metric unit of the answer."""
    inputs = ", ".join(
        f"{_input(name, words)} = {quantity(value, words)}" for name, value in (step.get("inputs") or {}).items()
    )
    out = quantity({"value": step.get("value"), "unit": step.get("unit")}, words)
    value = step.get("value")
    if isinstance(value, (int, float)) and (same := also_metric(Quantity(value, str(step.get("unit"))), unit)):
        out = f"{out} ({words.quantity(same)})"
    return f"{step['step']} ({inputs}) → {out}" if inputs else f"{step['step']} → {out}"


def _input(name: str, words: Words) -> str:
    """What a figure of a step is; the name in the formula where nobody has a word for it."""
    return words.word("input", name) if words.has(f"word.input.{name}") else name


def _marks(paper: Paper, recommendation: type_of_json, words: Words) -> None:
    if recommendation.get("sources"):
        paper.paragraph(words.text("report.source_marks", {"sources": ", ".join(recommendation["sources"])}), "  ")
    if recommendation.get("verification"):
        mark = Word("verification", recommendation["verification"])
        paper.paragraph(words.text("report.verification", {"mark": mark}), "  ")
