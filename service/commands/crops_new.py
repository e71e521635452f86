"""``saltbush crops new``: a folder for one more crop, filled from a few questions or flags, to be finished by hand."""

import argparse
import json
import re
import sys
from collections.abc import Iterable
from datetime import date
from pathlib import Path

from service.agronomy.tables import Crop
from service.catalog.catalog import Catalog
from service.commands.crops_folders import read_with

ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
POINTERS = ("sufficiency.csv", "amounts.csv")
HEADERS = {
    "sufficiency.csv": "calibration,analyte,method,use_table,use_group,sources,verification\n",
    "amounts.csv": "calibration,nutrient,use_table,use_group,sources,verification\n",
}
CROP = """\
# One crop. Lines that begin with # are explanations; take them out when you are done.
id = {id}
kind = {kind}
group = {group}
scientific_name = {scientific}
# Words the rules know: {known}.
traits = {traits}
# Whose tables to prefer, best first. The region of a garden wins over this order.
calibrations = {calibrations}
# The crop's line in the shared tables of boron and chloride tolerance, if it stands there. Nothing is taken over from
# a relative here: how much salt, boron or chloride it stands is this crop's own.
# boron = "tomato"
# boron_source = "MAAS1990"
# chloride = "tomato"
# chloride_source = "MAAS1990"
# When to feed it in cold, high and warm places: codes of the service, or words of your own in both languages:
# notes = [{{code = "season_mine", en = "In zones 5 and colder ...", es = "En zonas 5 o más frías ..."}}]
{notes}
# Several names: people search by all of them. The first one heads the report.
[names]
en = {english}
es = {spanish}

# How deep to sample, inches.
[sampling]
depth_in = {depth}

# The pH range in which it grows without trouble, if you have it in print:
# [reaction]
# pH_low = 6.0
# pH_high = 7.5
# sources = ["id of sources.csv"]
# place = "table 2"
# verification = "read"

# What people should beware of with this crop; severity is notice, caution, warning or danger:
# [[cautions]]
# code = "mine_beware"
# severity = "notice"
# en = "..."
# es = "..."
# sources = ["practice"]
# verification = "practice"
"""
CASE_HEAD = """\
## A worked case: a report, and what print says of it. `saltbush crops check` runs it.
## Take the single # away from the lines below and put your figures in; lines with ## stay as they are.
"""
LIKE_HEAD = """\
## The lines below are the case of {like}; the answers may be others for this crop.
"""
CASE = """\
# [[case]]
# name = "low phosphorus"
# source = "who printed these figures, and where"
#
# [[case.results]]
# analyte = "P"
# method = "olsen"
# value = 6
# unit = "mg/kg"
#
# [case.target]
# crop = {id}
#
# [case.options]
# as_of = "{day}"
#
# [case.expect.ratings]
# P = "low"
#
## What print says of the amount, if it does; the figures are only an example:
# [case.expect.rates]
# P2O5 = {{ low = 80, high = 100, unit = "lb/acre" }}
"""


def run(arguments: argparse.Namespace) -> int:
    """Answer 0 when the folder is made, 1 when it cannot be, 2 when an answer is missing."""
    folder: Path = arguments.folder
    catalog = read_with([folder] if folder.is_dir() and any(folder.iterdir()) else [])
    if not ID.fullmatch(arguments.id):
        return _refuse(f"{arguments.id!r} is no id; write it as sweet-corn, in small letters with hyphens", 1)
    if arguments.id in catalog.crop_editions or arguments.id in catalog.tables:
        return _refuse(f"there is {arguments.id} already; to change it copy its folder to a new date", 1)
    like = catalog.crops.get(arguments.like) if arguments.like else None
    if arguments.like and like is None:
        return _refuse(f"there is no crop {arguments.like!r} to follow; GET /v1/crops or crops/ lists them", 1)
    if missing := _ask(arguments, catalog, like):
        return _refuse(f"nobody is there to be asked; also give {missing}", 2)
    place = folder / arguments.id / arguments.edition.isoformat()
    place.mkdir(parents=True)
    for name, text in _files(arguments, catalog, like).items():
        (place / name).write_text(text, "utf-8")
    if like is not None:
        print(f"Ratings and rates point to those of {like.id}; salt, boron and chloride tolerance are not taken over.")
    print(f"{place} is made. Finish crop.toml, write a worked case in cases.toml, then:")
    print(f"  saltbush crops check {folder}")
    return 0


def _refuse(why: str, status: int) -> int:
    print(f"saltbush: {why}", file=sys.stderr)
    return status


QUESTIONS = (
    ("english", "--english", "Common names in English, separated by commas"),
    ("spanish", "--spanish", "Common names in Spanish, separated by commas"),
    ("scientific", "--scientific", "Scientific name"),
    ("kind", "--kind", "Kind ({kinds})"),
    ("group", "--group", "Group ({groups})"),
)


def _ask(arguments: argparse.Namespace, catalog: Catalog, like: Crop | None) -> str | None:
    """Fill what was not given from the relative or by asking; the flag that is missing when nobody can be asked."""
    crops = list(catalog.crops.values())
    if like is not None:
        arguments.kind, arguments.group = arguments.kind or like.kind, arguments.group or like.group
    for name, flag, question in QUESTIONS:
        if getattr(arguments, name):
            continue
        if not sys.stdin.isatty():
            return flag
        known = [crop for crop in crops if crop.kind == arguments.kind]
        words = {"kinds": _listed(crop.kind for crop in crops), "groups": _listed(crop.group for crop in known)}
        setattr(arguments, name, input(f"{question.format(**words)}: ").strip())
    return None


def _listed(words: Iterable[str]) -> str:
    return ", ".join(sorted(set(words)))


def _files(arguments: argparse.Namespace, catalog: Catalog, like: Crop | None) -> dict[str, str]:
    source = catalog.files[like.id, like.edition.edition].folder if like else None
    depth = arguments.depth or (like.depth_in if like else (0, 8))
    filled = {
        **{name: _quoted(getattr(arguments, name)) for name in ("id", "kind", "group", "scientific")},
        "traits": _quoted(sorted(like.traits) if like else []),
        "known": ", ".join(sorted({trait for crop in catalog.crops.values() for trait in crop.traits})),
        "notes": f"notes = {_quoted(like.notes)}\n" if like and like.notes else "",
        "calibrations": _quoted(like.calibrations if like else []),
        "english": _quoted(_names(arguments.english)),
        "spanish": _quoted(_names(arguments.spanish)),
        "depth": f"[{depth[0]:g}, {depth[1]:g}]",
    }
    pointers = {
        name: (source / name).read_text("utf-8") if source and (source / name).exists() else HEADERS[name]
        for name in POINTERS
    }
    return {"crop.toml": CROP.format(**filled), **pointers, "cases.toml": _case(arguments.id, like, source)}


def _case(name: str, like: Crop | None, source: Path | None) -> str:
    """The relative's own worked cases, which its tables are known to meet, else an example; each line behind a #."""
    written = source / "cases.toml" if source else None
    if like is None or written is None or not written.exists():
        return CASE_HEAD + CASE.format(id=_quoted(name), day=date.today().isoformat())
    lines = written.read_text("utf-8").replace(f'crop = "{like.id}"', f"crop = {_quoted(name)}").splitlines()
    commented = "".join(f"# {line}".rstrip() + "\n" for line in lines)
    return CASE_HEAD + LIKE_HEAD.format(like=like.id) + commented


def _names(text: str) -> list[str]:
    return [name.strip() for name in text.split(",") if name.strip()]


def _quoted(value: object) -> str:
    """As TOML writes it; JSON's strings and lists are TOML's."""
    return json.dumps(value, ensure_ascii=False)
