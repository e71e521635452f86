"""Every code that the door, the checks and the texture can give has its words in English and Spanish."""

import ast
from pathlib import Path

import pytest

from service.render.catalogue import Catalogue

AGRONOMY = Path(__file__).resolve().parents[2] / "service" / "agronomy"
MODULES = (
    "door", "measure", "slips", "quality", "bench", "checks_single", "checks_soil", "checks_solution", "earlier",
    "faults", "texture", "hydrometer", "ions", "sampling",
)  # fmt: skip
PREFIXES = ("ask.", "void.", "weak.", "texture.", "step.", "check.", "reason.")
CATALOGUE = Catalogue()


def written_codes() -> set[str]:
    """Whole codes in the sources, and the reasons, orders and marks that the helpers put together from one word."""
    found: set[str] = set()
    for name in MODULES:
        for node in ast.walk(ast.parse((AGRONOMY / f"{name}.py").read_text("utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value.startswith(PREFIXES):
                found.add(node.value)
            if isinstance(node, ast.Call):
                found |= composed(node)
    return {code for code in found if not code.endswith((".", "_"))}


def composed(call: ast.Call) -> set[str]:
    """Codes of ``Reason("x", ...)``, ``bench.reason("x", ...)``, ``bench.void(..., "x", ...)`` and the like."""
    name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
    at = 1 if name in ("void", "weaken") else 0
    word = literal(call.args[at]) if len(call.args) > at else None
    if word is None:
        return set()
    kinds = {
        "Reason": ("reason",),
        "reason": ("reason", "ask"),
        "void": ("void",),
        "weaken": ("weak",),
        "_doubt": ("reason", "ask", "void"),
        "report": ("check",),
        "compare": ("check",),
    }
    found = {f"{kind}.{word}" for kind in kinds.get(name, ())}
    status = literal(call.args[1]) if name == "report" and len(call.args) > 1 else None
    said = (status,) if status else ("pass", "warn") if name == "compare" else ()
    return found | {f"check.{word}.{status}" for status in said}


def literal(node: ast.expr) -> str | None:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_code_has_words(language: str) -> None:
    """A code without words would show itself to a gardener."""
    codes = written_codes()
    assert len(codes) > 80
    assert sorted(codes - set(CATALOGUE.texts(language))) == []


SLIPS = ("us_cm", "ms_m", "decimal", "sign", "percent_for_mg_kg", "mg_kg_for_percent", "mg_l_for_meq_l",
         "meq_l_for_mg_l", "mg_kg_for_meq", "meq_for_mg_kg", "other_p", "no3_for_no3_n")  # fmt: skip


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_slip_has_words(language: str) -> None:
    """Slips are named in both languages, and the list here is the list in the source."""
    source = (AGRONOMY / "slips.py").read_text("utf-8")
    assert all(f'"{slip}"' in source for slip in SLIPS)
    assert {f"word.slip.{slip}" for slip in SLIPS} <= set(CATALOGUE.texts(language))


@pytest.mark.parametrize("area", ["door", "quality", "texture"])
def test_spanish_is_complete_and_marked_as_draft(area: str) -> None:
    """The same codes in both languages; no Spanish text claims a review that it has not had."""
    entries = {
        language: {code: entry for code, entry in CATALOGUE.entries[language].items() if f"{area}.po" in entry.file}
        for language in ("en", "es")
    }
    assert set(entries["en"]) == set(entries["es"])
    assert entries["en"]
    assert all(entry.draft for entry in entries["es"].values())
