"""``saltbush retention``: what is kept no longer than it must."""

import argparse
import sys
from typing import Any

from service.settings import Settings


def add(commands: Any) -> None:
    """Declare the command."""
    parser = commands.add_parser("retention", help="count what is over by the table retention; --apply lets it go")
    parser.add_argument("--apply", action="store_true", help="delete it; the trail says so first")
    parser.add_argument("--database", default="", help="SQLAlchemy URL (default: as serve would use it)")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print one line for each kind; 1 where the database cannot be used."""
    from service.catalog.catalog import load_catalog
    from service.desk import retention
    from service.desk.office import Office
    from service.store.store import Store, StoreUnavailableError

    settings = Settings.from_environment()
    store = Store(arguments.database or settings.database_url)
    try:
        ended = retention.run(Office(load_catalog(settings.crop_folders), "retention", store), arguments.apply)
    except StoreUnavailableError:
        print("saltbush: the database cannot be used; nothing was changed", file=sys.stderr)
        return 1
    finally:
        store.close()
    said = "deleted" if arguments.apply else "over"
    for kind, count in ended._asdict().items():
        print(f"{kind}: {count} {'under a legal hold' if kind == 'held' else said}")
    return 0
