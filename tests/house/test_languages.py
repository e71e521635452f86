"""Every code of the core has its sentence in every language, with the same placeholders.

The codes are read from the source (syntax tree) and from the tables, and met again in the answers to the demo cases.
"""

import ast
import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from service.agronomy.not_assessed import SUBJECTS
from service.agronomy.tables import Library
from service.render.catalogue import Catalogue
from service.render.labels import labels
from service.render.words import Words, placeholders

ROOT = Path(__file__).resolve().parents[2]
CATALOGUE = Catalogue()
PREFIXES = (
    *("ask", "calc", "caution", "check", "consult", "do_not", "finding", "limit", "missing", "provenance", "reaction"),
    *("how", "reason", "rec", "salt", "sodium", "step", "summary", "texture", "void", "water", "weak", "when"),
)
CODE = re.compile(rf"^({'|'.join(PREFIXES)})(\.[A-Za-z0-9_]+)+$")
KINDS = ("nutrient", "amendment", "water", "practice", "none_needed", "do_not", "not_suited")
CONSTRUCTORS = {"Note": ("",), "Reason": ("reason.",), "Step": ("step.",), "Caution": ("caution.",)}
# Calls whose second argument is no subject although the first may read like a kind of recommendation.
NO_SUBJECT = ("Input", "WrongInput")
# Methods of the core that put a code into a message: position of the code, prefixes it is used under.
RECORDERS = {
    "reason": (0, ("reason.", "ask.")),
    "void": (1, ("void.",)),
    "weaken": (1, ("weak.",)),
    "step": (0, ("step.",)),
}


def modules() -> list[Path]:
    """Whatever may put a code into an answer."""
    floors = ("agronomy", "contract", "desk", "api")
    return sorted(path for floor in floors for path in (ROOT / "service" / floor).rglob("*.py"))


def named_codes(tree: ast.AST) -> Iterator[str]:
    """Message codes that stand in the source as they are."""
    pieces = {id(value) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for value in node.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and id(node) not in pieces and CODE.match(str(node.value)):
            yield str(node.value)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            for prefix in CONSTRUCTORS.get(node.func.id, ()):
                yield from (prefix + code.removeprefix(prefix) for code in strings(node.args[:1]))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            yield from recorded_codes(node, node.func.attr)


def recorded_codes(call: ast.Call, method: str) -> Iterator[str]:
    """Codes handed to the core's recorders, such as ``bench.void(results, "likely_slip", values)``."""
    if method == "report":
        yield from (f"check.{check}.{status}" for check, status in together(call.args[0], call.args[1]))
    if method == "compare":
        yield from (f"check.{a}.{b}" for a in strings(call.args[:1]) for b in ("pass", "warn"))
    position, prefixes = RECORDERS.get(method, (0, ()))
    for code in strings(call.args[position : position + 1]):
        yield from (prefix + code for prefix in prefixes)


def together(one: ast.expr, other: ast.expr) -> Iterator[tuple[str, str]]:
    """Two texts that are given together; choices by the same question go side by side."""
    if isinstance(one, ast.IfExp) and isinstance(other, ast.IfExp) and ast.dump(one.test) == ast.dump(other.test):
        yield from together(one.body, other.body)
        yield from together(one.orelse, other.orelse)
    else:
        yield from ((a, b) for a in strings([one]) for b in strings([other]))


def strings(arguments: list[ast.expr]) -> Iterator[str]:
    """The texts an argument can be: a constant, or either side of a choice."""
    for argument in arguments:
        if isinstance(argument, ast.IfExp):
            yield from strings([argument.body, argument.orelse])
        elif isinstance(argument, ast.Constant) and isinstance(argument.value, str):
            yield argument.value


def made_codes(tree: ast.AST) -> Iterator[str]:
    """Patterns of the codes that the source puts together: ``finding.used_for_.+``."""
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr) and node.values and isinstance(node.values[0], ast.Constant):
            head = str(node.values[0].value)
            if head.partition(".")[0] in PREFIXES and "." in head:
                parts = [re.escape(str(v.value)) if isinstance(v, ast.Constant) else ".*" for v in node.values]
                yield "".join(parts)


def closed_words(tree: ast.AST) -> Iterator[str]:
    """Words of closed lists that stand in the source: ``Word("rating", "high")``."""
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Word"):
            continue
        constants = [str(arg.value) for arg in node.args if isinstance(arg, ast.Constant)]
        if len(constants) == 2:
            yield f"word.{constants[0]}.{constants[1]}"


def named_subjects(tree: ast.AST) -> Iterator[str]:
    """Subjects of recommendations: the text that follows a kind, as in ``answer("do_not", "sulfur", ...)``."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") not in NO_SUBJECT:
            values = [arg.value if isinstance(arg, ast.Constant) else None for arg in node.args]
            for kind, subject in pairwise(values):
                if kind in KINDS and isinstance(subject, str) and "." not in subject and subject not in KINDS:
                    yield f"word.subject.{subject}"


def given_values(tree: ast.AST) -> Iterator[tuple[str, frozenset[str]]]:
    """Notes whose code and values both stand in the source: code -> names of the values."""
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Note"):
            continue
        if node.args and isinstance(node.args[0], ast.Constant):
            given = node.args[1] if len(node.args) > 1 else ast.Dict([], [])
            if isinstance(given, ast.Dict) and all(isinstance(key, ast.Constant) for key in given.keys):
                yield str(node.args[0].value), frozenset(str(key.value) for key in given.keys)  # type: ignore[union-attr]


def trees() -> dict[str, ast.AST]:
    return {str(path.relative_to(ROOT)): ast.parse(path.read_text("utf-8")) for path in modules()}


@pytest.mark.parametrize("language", CATALOGUE.languages)
def test_every_code_in_the_source_has_a_text(language: str) -> None:
    known = set(CATALOGUE.entries[language])
    missing = {f"{code} ({name})" for name, tree in trees().items() for code in named_codes(tree) if code not in known}
    assert not missing, f"{len(missing)} codes without {language} text: {sorted(missing)}"


@pytest.mark.parametrize("language", CATALOGUE.languages)
def test_every_code_made_at_run_time_finds_texts(language: str) -> None:
    known = CATALOGUE.entries[language]
    missing = {
        f"{pattern} ({name})"
        for name, tree in trees().items()
        for pattern in made_codes(tree)
        if not any(re.fullmatch(pattern, code) for code in known)
    }
    assert not missing, f"no {language} text fits: {sorted(missing)}"


@pytest.mark.parametrize("language", CATALOGUE.languages)
def test_every_word_in_the_source_has_a_text(language: str, library: Library) -> None:
    known = set(CATALOGUE.entries[language]) | set(library.index(labels)[language])
    missing = {
        f"{word} ({name})"
        for name, tree in trees().items()
        for word in (*closed_words(tree), *named_subjects(tree))
        if word not in known
    }
    missing |= {item.subject for item in SUBJECTS if f"word.subject.{item.subject}" not in known}
    assert not missing, f"{language}: {sorted(missing)}"


def test_a_text_asks_only_for_values_that_the_note_gives() -> None:
    texts = {code: entry.text for code, entry in CATALOGUE.entries["en"].items()}
    wrong = {
        f"{code}: {sorted(placeholders(texts[code]) - given)} ({name})"
        for name, tree in trees().items()
        for code, given in given_values(tree)
        if code in texts and not placeholders(texts[code]) <= given
    }
    assert not wrong, sorted(wrong)


@pytest.mark.parametrize("language", CATALOGUE.languages)
def test_every_code_of_the_tables_has_a_text(language: str, library: Library) -> None:
    known = set(CATALOGUE.entries[language])
    missing = {code for code in table_codes(library) if code not in known}
    assert not missing, f"{len(missing)} codes without {language} text: {sorted(missing)}"


def table_codes(library: Library) -> Iterator[str]:
    """Codes that rows put into an answer: cautions, who to consult, release rules, dated levels."""
    for table in ("cautions", "safety-levels"):
        for row in library.tables[table]:
            yield f"caution.{row.caution}"  # type: ignore[attr-defined]
            yield from (f"consult.{who}" for who in row.consult)  # type: ignore[attr-defined]
    for row in library.tables["release-rules"]:
        yield f"reason.{row.code}"  # type: ignore[attr-defined]
    for crop in library.crops.values():
        yield from (f"caution.{caution.code}" for caution in crop.cautions)


@pytest.mark.parametrize("language", CATALOGUE.languages)
def test_every_word_of_a_closed_list_is_said(language: str, library: Library) -> None:
    words = Words(language, CATALOGUE, library.index(labels)[language])
    for row in library.tables["words"]:
        assert words.has(f"word.{row.list}.{row.word}")  # type: ignore[attr-defined]
    for row in library.tables["analytes"]:
        assert words.has(f"word.analyte.{row.analyte}")  # type: ignore[attr-defined]
    for row in library.tables["methods"]:
        assert words.has(f"word.method.{row.method}")  # type: ignore[attr-defined]
    for crop in library.crops:
        assert words.has(f"word.crop.{crop}")


@pytest.mark.parametrize("language", [name for name in CATALOGUE.languages if name != "en"])
def test_languages_hold_the_same_codes_with_the_same_placeholders(language: str) -> None:
    english, other = CATALOGUE.entries["en"], CATALOGUE.entries[language]
    assert set(english) == set(other), f"only in one language: {sorted(set(english) ^ set(other))}"
    unlike = {code for code in english if placeholders(english[code].text) != placeholders(other[code].text)}
    assert not unlike, f"placeholders differ: {sorted(unlike)}"


@pytest.mark.parametrize("language", [name for name in CATALOGUE.languages if name != "en"])
def test_unreviewed_translations_are_marked(language: str) -> None:
    """Nobody has reviewed the Spanish yet, so each text must carry the draft mark and none of the English may."""
    assert CATALOGUE.drafts(language) == frozenset(CATALOGUE.entries[language])
    assert not CATALOGUE.drafts("en")


def test_spanish_class_words_agree_with_what_they_speak_of() -> None:
    """*alto* is masculine: a result or a level is high, a test (*prueba*) is not, and no element *está medio*."""
    wrong = re.compile(r"prueba[^.]* es \{rating\}|está \{rating\}")
    found = [code for code, entry in CATALOGUE.entries["es"].items() if wrong.search(entry.text)]
    assert not found
