"""Finds the tests that call the functions behind each formula, and writes them down for the matrix document.

After a change of tests or of `service.agronomy.formulas`: ``python tests/house/proofs.py``.

A test proves a formula when it calls one of its functions: in its own body, or through a function or a table of its own
module. Names are followed from the imports; a method counts where its class is imported and a method of that name is
called. A function that takes a whole case does many things, so that calling it proves nothing: such tests, and those of
a whole module, carry the mark ``@pytest.mark.formula("id")``. What a test checks against its docstring says.
"""

import ast
import inspect
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import orjson

from service.agronomy.formulas import FORMULAS, RATE_EQUATIONS

ROOT = Path(__file__).resolve().parents[2]
FILE = ROOT / "service" / "pages" / "data" / "proofs.json"
CORE = "service.agronomy"
WHOLE = ("case", "bench", "given")
"""First arguments of functions that do more than one formula."""
type_of_proofs = dict[str, list[tuple[str, str]]]


class Module(NamedTuple):
    """One test module: what its names refer to, its tests with what they say, and the formulas they are marked with."""

    path: str
    refers: Mapping[str, frozenset[str]]
    tests: Mapping[str, str]
    marks: Mapping[str, frozenset[str]]


def find() -> type_of_proofs:
    """Formula or rate equation -> tests with what they say, sorted."""
    wanted = {name: frozenset(full_name(each) for each in functions if plain(each)) for name, functions in _all()}
    found: type_of_proofs = {}
    for module in map(read, sorted((ROOT / "tests").rglob("test_*.py"))):
        for test, says in module.tests.items():
            called = closure(module, test)
            for name, functions in wanted.items():
                if functions & called or name in module.marks[test]:
                    found.setdefault(name, []).append((f"{module.path}::{test}", says))
    return {name: found[name] for name in sorted(found)}


def _all() -> Iterator[tuple[str, tuple[Callable[..., Any], ...]]]:
    yield from FORMULAS.items()
    yield from ((name, (function,)) for name, function in RATE_EQUATIONS.items())


def plain(function: Callable[..., Any]) -> bool:
    """Whether a function does one thing with figures."""
    return next(iter(inspect.signature(function).parameters), "") not in WHOLE


def full_name(function: Callable[..., Any]) -> str:
    """``service.agronomy.units.Units.express``."""
    return f"{function.__module__}.{function.__qualname__}"


def closure(module: Module, start: str) -> frozenset[str]:
    """Everything a name of a module refers to, through other names of the module."""
    seen: set[str] = set()
    waiting = [start]
    while waiting:
        for name in module.refers.get(waiting.pop(), ()):
            if name not in seen:
                seen.add(name)
                waiting.append(name)
    return frozenset(seen)


def read(path: Path) -> Module:
    """One test module."""
    tree = ast.parse(path.read_text("utf-8"))
    imported = dict(imports(tree))
    refers: dict[str, frozenset[str]] = {}
    tests: dict[str, str] = {}
    marks: dict[str, frozenset[str]] = {}
    of_all = frozenset(each for node in tree.body if "pytestmark" in names_of(node) for each in marked(node))
    for node in tree.body:
        for name in names_of(node):
            refers[name] = refers.get(name, frozenset()) | frozenset(references(node, imported))
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
            tests[node.name] = (ast.get_docstring(node) or "").partition("\n\n")[0].replace("\n", " ").strip()
            marks[node.name] = of_all.union(*map(marked, node.decorator_list))
    return Module(path.relative_to(ROOT).as_posix(), refers, tests, marks)


def marked(node: ast.AST) -> frozenset[str]:
    """Formulas named by ``pytest.mark.formula(...)`` in a decorator or an assignment."""
    calls = (each for each in ast.walk(node) if isinstance(each, ast.Call) and isinstance(each.func, ast.Attribute))
    named = (arg for call in calls if call.func.attr == "formula" for arg in call.args)  # type: ignore[attr-defined]
    return frozenset(str(arg.value) for arg in named if isinstance(arg, ast.Constant))


def imports(tree: ast.Module) -> Iterator[tuple[str, str]]:
    """Local name -> what it stands for in the core."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith(CORE):
            yield from ((alias.asname or alias.name, f"{node.module}.{alias.name}") for alias in node.names)


def names_of(node: ast.stmt) -> Iterable[str]:
    """Names that a statement of a module gives a meaning to."""
    if isinstance(node, (ast.FunctionDef, ast.ClassDef)):
        return (node.name,)
    targets = node.targets if isinstance(node, ast.Assign) else [node.target] if isinstance(node, ast.AnnAssign) else []
    return [target.id for target in targets if isinstance(target, ast.Name)]


def references(node: ast.AST, imported: Mapping[str, str]) -> Iterator[str]:
    """Names of the module and of the core that a statement mentions."""
    classes = [target for target in imported.values() if target.rpartition(".")[2][:1].isupper()]
    for each in ast.walk(node):
        if isinstance(each, ast.Name):
            yield imported.get(each.id, each.id)
        if isinstance(each, ast.Attribute):
            if isinstance(each.value, ast.Name) and each.value.id in imported:
                yield f"{imported[each.value.id]}.{each.attr}"
            else:
                yield from (f"{owner}.{each.attr}" for owner in classes)


def encoded(proofs: type_of_proofs) -> bytes:
    """The file."""
    return orjson.dumps(proofs, option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE)


def main() -> int:
    """Write the file anew."""
    FILE.parent.mkdir(exist_ok=True)
    FILE.write_bytes(encoded(find()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
