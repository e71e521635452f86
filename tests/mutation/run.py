"""Mutation testing of the core with mutmut: ``python tests/mutation/run.py decision caps`` (module names of the core).

Works in a clone of HEAD under the system's temporary folder, so that the working tree is never touched, and prints for
each module how many mutants were killed. Without names it takes the modules whose every mutant must die.
mutmut is not among the development tools that every test run needs: ``pip install mutmut`` first.
"""

import argparse
import collections
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
MUST_DIE = ("cautions", "caps", "decision", "health")
CONFIG = """
[tool.mutmut]
source_paths = ["service"]
only_mutate = [{modules}]
also_copy = ["crops", "tests", "migrations", "openapi", "pyproject.toml"]
pytest_add_cli_args = ["-n0", "-p", "no:cacheprovider", "-o", "addopts="]
pytest_add_cli_args_test_selection = ["tests/agronomy", "tests/cases"]
"""
DEAD = ("killed", "timeout")


def main() -> None:
    """Clones, mutates, runs, counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("modules", nargs="*", default=MUST_DIE)
    parser.add_argument("--minutes", type=float, default=60.0, help="stop after so long; what was run counts")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        clone = Path(folder) / "saltbush"
        subprocess.run(["git", "clone", "-q", str(ROOT), str(clone)], check=True)
        names = ", ".join(f'"service/agronomy/{module}.py"' for module in given.modules)
        with (clone / "pyproject.toml").open("a", encoding="utf-8") as stream:
            stream.write(CONFIG.format(modules=names))
        _run(clone, given.minutes * 60)
        _count(clone)


def _mutmut(*arguments: str) -> list[str]:
    return [str(Path(sys.executable).with_name("mutmut")), *arguments]


def _run(clone: Path, seconds: float) -> None:
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ.get('PATH', '')}"
    try:
        subprocess.run(
            _mutmut("run"), cwd=clone, env={**os.environ, "PATH": path}, timeout=seconds, stdout=subprocess.DEVNULL
        )
    except subprocess.TimeoutExpired:
        print(f"stopped after {seconds / 60:.0f} minutes")


def _count(clone: Path) -> None:
    told = subprocess.run(_mutmut("results", "--all", "true"), cwd=clone, capture_output=True, text=True).stdout
    counts: dict[str, collections.Counter[str]] = collections.defaultdict(collections.Counter)
    for line in told.splitlines():
        name, _, status = line.strip().partition(": ")
        if status and status not in ("not checked", "skipped"):
            counts[name.split(".x")[0].rpartition(".")[2]][status] += 1
    for module, statuses in sorted(counts.items()):
        dead, all_run = sum(statuses[word] for word in DEAD), sum(statuses.values())
        print(f"{module}: {dead} of {all_run} mutants killed ({100 * dead / all_run:.1f} %); {dict(statuses)}")


if __name__ == "__main__":
    main()
