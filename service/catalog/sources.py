"""The list of cited works of a folder: ``sources.csv``."""

import csv
from collections.abc import Mapping
from pathlib import Path

from service.agronomy.tables import Source
from service.catalog.errors import Fault
from service.catalog.read import TEXT

SOURCE_COLUMNS = ("id", "authors", "year", "title", "publisher", "identifier", "url", "grade")


def add_sources(sources: dict[str, Source], path: Path, faults: list[Fault]) -> None:
    """Read one list into ``sources``. Two works of one id are a fault."""
    if not path.exists():
        return
    with path.open(encoding=TEXT, newline="") as stream:
        reader = csv.DictReader(stream)
        if tuple(reader.fieldnames or ()) != SOURCE_COLUMNS:
            faults.append(Fault(path, 1, None, f"columns {reader.fieldnames}", ",".join(SOURCE_COLUMNS)))
            return
        for raw in reader:
            if None in raw or None in raw.values():
                faults.append(Fault(path, reader.line_num, None, "more or fewer cells than columns", "8 cells"))
                continue
            source = Source(raw["id"], _citation(raw), raw["url"] or None, raw["grade"])
            if sources.setdefault(source.id, source) != source:
                wrong = f"{source.id} is the id of another work already"
                faults.append(Fault(path, reader.line_num, "id", wrong, "an id of its own, or the same text"))


def _citation(raw: Mapping[str, str]) -> str:
    year = f" ({raw['year']})" if raw["year"] else ""
    authors = "" if raw["authors"] in ("", "-") else f"{raw['authors']}{year}. "
    ending = ", ".join(part for part in (raw["publisher"], raw["identifier"]) if part and part != "-")
    return f"{authors}{raw['title']}{'' if authors else year}." + (f" {ending}." if ending else "")
