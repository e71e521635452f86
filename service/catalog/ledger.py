"""Released editions and their hashes: ``editions.csv`` of a folder. A released edition never changes again.

An edition that stands in a folder but not in its list is a draft: it is used, but nobody has promised that it stays.
"""

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import NamedTuple

from service.agronomy.findings import EditionRef
from service.catalog.errors import Fault
from service.catalog.read import TEXT

FILE = "editions.csv"
COLUMNS = ("id", "edition", "sha256", "released_on")


class Released(NamedTuple):
    """One line of the list."""

    id: str
    edition: str
    sha256: str
    released_on: str
    line: int = 0


@dataclass(frozen=True, slots=True)
class Standing:
    """One edition as it stands in a folder, released or not."""

    ref: EditionRef
    path: Path


def read_ledger(folder: Path, faults: list[Fault]) -> tuple[Released, ...]:
    """The released editions of a folder; none when it keeps no list."""
    path = folder / FILE
    if not path.exists():
        return ()
    with path.open(encoding=TEXT, newline="") as stream:
        reader = csv.DictReader(stream)
        if tuple(reader.fieldnames or ()) != COLUMNS:
            faults.append(Fault(path, 1, None, f"columns {reader.fieldnames}", ",".join(COLUMNS)))
            return ()
        return tuple(
            Released(raw["id"], raw["edition"], raw["sha256"], raw["released_on"], reader.line_num) for raw in reader
        )


def check_ledger(folder: Path, standing: Iterable[Standing], faults: list[Fault]) -> None:
    """A fault for each released edition that was changed or is gone."""
    found = {item.ref[:2]: item for item in standing}
    for line in read_ledger(folder, faults):
        item = found.get((line.id, line.edition))
        if item is None:
            wrong = f"{line.id} {line.edition}, released on {line.released_on}, is gone"
            right = "its file back in place; or, if no stored interpretation uses it, without this line"
            faults.append(Fault(folder / FILE, line.line, "edition", wrong, right))
        elif item.ref.sha256 != line.sha256:
            wrong = f"this edition was released on {line.released_on} and has been changed since"
            faults.append(Fault(item.path, None, None, wrong, _remedy(item.path)))


def _remedy(path: Path) -> str:
    return f"the file as it was released; make the change in a new edition: copy {path.name} to a later date"


def unreleased(folder: Path, standing: Iterable[Standing]) -> list[Standing]:
    """Editions that stand in the folder but not in its list."""
    listed = {(line.id, line.edition) for line in read_ledger(folder, [])}
    return [item for item in standing if item.ref[:2] not in listed]


def freeze(folder: Path, standing: Iterable[Standing], today: date) -> list[Standing]:
    """Add what is not yet released to the list; what was added."""
    standing = sorted(standing, key=lambda item: item.ref)
    added = unreleased(folder, standing)
    lines = [*read_ledger(folder, []), *(Released(*item.ref, today.isoformat()) for item in added)]
    with (folder / FILE).open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(line[: len(COLUMNS)] for line in sorted(lines))
    return added
