"""Worked cases of a crop in words: what was sent in and what print says must come out."""

from collections.abc import Iterable, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from service.agronomy.submission import Quantity
from service.catalog.read import read_toml
from service.pages.ladders import said
from service.render.words import Words

SHOWN = ("target", "site", "sample")
UNSAID = ("crop",)


class Worked(NamedTuple):
    """One case: its name and source as written, figures and answers as sentences."""

    name: str
    source: str
    given: tuple[str, ...]
    expected: tuple[str, ...]


def worked_cases(folder: Path, words: Words) -> tuple[Worked, ...]:
    """The cases that stand beside a crop edition; none where it has no such file."""
    return tuple(
        Worked(
            str(case.get("name", "")),
            str(case.get("source", "")),
            tuple(_given(case, words)),
            tuple(_expected(case.get("expect", {}), words)),
        )
        for case in _read(folder / "cases.toml")
    )


@lru_cache(maxsize=1024)
def _read(path: Path) -> tuple[Mapping[str, Any], ...]:
    return tuple(read_toml(path, []).get("case", ()))


def _given(case: Mapping[str, Any], words: Words) -> Iterable[str]:
    yield from (_result(result, words) for result in case.get("results", ()))
    for part in SHOWN:
        yield from _flat(case.get(part, {}), words)


def _result(result: Mapping[str, Any], words: Words) -> str:
    value = result.get("value", result.get("text"))
    figure = words.quantity(Quantity(float(value), result.get("unit") or "")) if _is_number(value) else str(value)
    values = {
        "analyte": said(words, "analyte", result["analyte"]),
        "method": said(words, "method", str(result.get("method", "not_stated"))),
        "value": f"{result.get('qualifier') or ''}{figure}",
    }
    return words.text("page.library.case.result", values)


def _flat(tree: Mapping[str, Any], words: Words, above: str = "") -> Iterable[str]:
    """Everything else that was told, one line each; nested names are joined."""
    for name, value in tree.items():
        label = f"{above} {_label(name, words)}".strip()
        if name in UNSAID:
            continue
        if isinstance(value, dict) and set(value) == {"value", "unit"}:
            yield f"{label}: {words.quantity(Quantity(value['value'], value['unit']))}"
        elif isinstance(value, dict):
            yield from _flat(value, words, label)
        elif isinstance(value, list):
            yield from (_item(label, each, words) for each in value)
        else:
            yield f"{label}: {said(words, name, str(value)) if isinstance(value, str) else value}"


def _label(name: str, words: Words) -> str:
    code = f"page.library.case.{name}"
    return words.text(code) if words.has(code) else name.replace("_", " ")


def _item(label: str, item: Any, words: Words) -> str:
    is_result = isinstance(item, dict) and "analyte" in item
    return f"{label}: {_result(item, words) if is_result else str(item).replace('_', ' ')}"


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _expected(expect: Mapping[str, Any], words: Words) -> Iterable[str]:
    for analyte, rating in expect.get("ratings", {}).items():
        yield f"{said(words, 'analyte', analyte)}: {said(words, 'rating', rating)}"
    for subject, rate in expect.get("rates", {}).items():
        top = words.quantity(Quantity(rate["high"], rate["unit"]))
        spread = {"low": float(rate["low"]), "high": top}
        shown = top if rate["low"] == rate["high"] else words.text("page.library.rate.from_to", spread)
        yield f"{said(words, 'subject', subject)}: {shown}"
    for key, kind in (("none_needed", "subject"), ("do_not", "subject"), ("not_rated", "analyte")):
        if expect.get(key):
            listed = words.listing(tuple(said(words, kind, each) for each in expect[key]))
            yield words.text(f"page.library.case.{key}", {"subjects": listed})
    if expect.get("outcome"):
        yield said(words, "outcome", expect["outcome"])
    yield from (words.text(f"caution.{code}") for code in expect.get("cautions", ()) if words.has(f"caution.{code}"))
