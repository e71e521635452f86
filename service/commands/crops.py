"""``saltbush crops check``: whether the tables and crops can be read, with every fault at its place."""

import argparse
import sys
from pathlib import Path
from typing import Any

from service.settings import Settings


def add(commands: Any) -> None:
    """Declare the command."""
    parser = commands.add_parser("crops", help="work on tables and crops")
    actions = parser.add_subparsers(title="actions", required=True, metavar="ACTION")
    check = actions.add_parser("check", help="read every table and crop and name what is wrong")
    check.add_argument("folders", nargs="*", type=Path, help="folders of your own, checked with the shipped one")
    check.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Answer 0 when all can be read. Raises CatalogError with the list of faults."""
    from service.catalog.catalog import load_catalog

    missing = [folder for folder in arguments.folders if not folder.is_dir()]
    if missing:
        print(f"no such folder: {missing[0]}", file=sys.stderr)
        return 1
    catalog = load_catalog([*Settings.from_environment().crop_folders, *arguments.folders])
    print(f"{len(catalog.tables)} tables, {len(catalog.crop_editions)} crops, {len(catalog.sources)} sources: no fault")
    return 0
