"""``saltbush crops freeze``: record the hashes of new editions; from then on they never change."""

import argparse
from datetime import date

from service.catalog.ledger import FILE, freeze
from service.commands.crops_folders import inside, read_with
from service.settings import shipped


def run(arguments: argparse.Namespace) -> int:
    """Answer 0 when the list is written. Raises SettingError, CatalogError."""
    folder = arguments.folder or shipped("crops")
    if arguments.anew:
        (folder / FILE).unlink(missing_ok=True)
    catalog = read_with([folder])
    place = inside(catalog, folder)
    added = freeze(place, catalog.standing[place], date.today())
    print(f"{len(added)} editions released; {place / FILE} lists all")
    return 0
