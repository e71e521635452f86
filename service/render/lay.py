"""An interpretation as a page for its client: what to do first, then amounts, then figures; sentences as issued."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, NamedTuple

from service.agronomy.findings import Word
from service.agronomy.submission import Quantity
from service.render.text import URGENT, caution_text, reason_text
from service.render.text_figures import figure_row, quantity
from service.render.words import Words

LEFT_OUT = frozenset(("withhold", "hold", "refuse"))
AMOUNTS = frozenset(("nutrient", "amendment", "water"))
type_of_json = Mapping[str, Any]


class Amount(NamedTuple):
    """One thing to give: its name, how much, the sentence about it, its doses."""

    name: str
    amount: str
    text: str
    doses: tuple[str, ...]


class Sheet(NamedTuple):
    """Everything a client reads, in the order of the page; figures are name, value, meaning, class limits."""

    number: str
    day: str
    crop: str
    outcome: str
    verdict: str
    urgent: tuple[str, ...]
    actions: tuple[str, ...]
    do_not: tuple[str, ...]
    retest: str
    contact: str
    left_out: tuple[str, ...]
    remarks: tuple[str, ...]
    amounts: tuple[Amount, ...]
    figures: tuple[tuple[str, str, str, str], ...]
    cautions: tuple[str, ...]


def sheet(answer: type_of_json, words: Words) -> Sheet:
    """The page of one answer."""
    summary = answer.get("summary") or {}
    cautions = answer.get("cautions") or ()
    reasons = [reason for reason in answer.get("reasons") or () if reason.get("severity") in LEFT_OUT]
    given = [item for item in answer.get("recommendations") or () if item.get("kind") in AMOUNTS]
    layered = len({tuple(finding.get("depth_in") or ()) for finding in answer.get("findings") or ()}) > 1
    return Sheet(
        number=str(answer.get("number") or ""),
        day=words.day(date.fromisoformat(str(answer["issued_at"])[:10])),
        crop=words.text("report.crop", {"crop": Word("crop", answer["crop"])}) if answer.get("crop") else "",
        outcome=words.text(f"report.outcome.{answer['outcome']}"),
        verdict=summary.get("verdict") or "",
        urgent=tuple(caution_text(one, words) for one in cautions if one.get("severity") in URGENT),
        actions=tuple(summary.get("actions") or ()),
        do_not=tuple(summary.get("do_not") or ()),
        retest=words.month(summary.get("retest") or "") if summary.get("retest") else "",
        contact=summary.get("contact") or "",
        left_out=tuple(reason_text(reason) for reason in reasons),
        remarks=tuple(remark["text"] for remark in answer.get("remarks") or ()),
        amounts=tuple(_amount(item, words) for item in given),
        figures=tuple(figure_row(finding, layered, words) for finding in answer.get("findings") or ()),
        cautions=tuple(caution_text(one, words) for one in cautions if one.get("severity") not in URGENT),
    )


def trend(lines: Sequence[type_of_json], words: Words) -> tuple[tuple[str, str, str], ...]:
    """Each comparable result: its name, the figure before and now, and whether the change is more than noise.

    Args:
        lines: as the history of a report has them; what season and water move is left out.
    """
    return tuple(_step(line, words) for line in lines if not line["seasonal"] and line["verdict"] != "unknown")


def _step(line: type_of_json, words: Words) -> tuple[str, str, str]:
    before, now = line["points"][-2:]
    unit = str(line["unit"] or "")
    year = words.day(date.fromisoformat(before["day"]))
    figures = {"before": Quantity(before["value"], unit), "now": Quantity(now["value"], unit), "day": year}
    method = words.word("method", line["method"])
    name = f"{words.word('analyte', line['analyte'])}, {method}"
    return name, words.text("client.trend.step", figures), words.text(f"client.trend.{line['verdict']}")


def _amount(item: type_of_json, words: Words) -> Amount:
    subject = words.word("subject", str(item.get("subject")))
    amounts = [quantity(item[name], words) for name in ("for_area", "rate") if item.get(name)]
    doses = tuple(
        f"{_capital(str(dose['when']))}: {quantity(dose.get('rate'), words)}" for dose in item.get("applications") or ()
    )
    return Amount(_capital(subject), " · ".join(amounts), item.get("text") or "", doses)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
