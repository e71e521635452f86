"""``saltbush serve``: make the database, listen on this machine."""

import argparse
import os
import socket
import sys
from pkgutil import resolve_name
from typing import Any

from service.settings import LOOPBACK, PREFIX, Settings, shipped

APPLICATION = "service.app:create_app"
"""Named, not imported: it stands a floor above and joins what the commands only start."""

WARM = "service.app:warm"

REQUEST = """\
Saltbush listens on {address} (this machine only). Open it in a browser, or try:

  curl -s '{address}/v1/interpretations?store=false' -H 'Content-Type: application/json' -d '{{
    "results": [
      {{"analyte": "pH", "method": "saturated_paste", "value": 7.8}},
      {{"analyte": "EC", "method": "saturated_paste_extract", "value": 1.1, "unit": "dS/m"}},
      {{"analyte": "P", "method": "olsen", "value": 31, "unit": "mg/kg"}}],
    "target": {{"crop": "tall-fescue-lawn", "area": {{"value": 3200, "unit": "ft2"}}}}}}'

Records are kept in {kept}. Stop with Ctrl-C."""

KEYED = """\
Saltbush listens on {address}. There are keys, so requests need one: -H 'Authorization: Bearer sb_...'
(see saltbush keys). Documentation and library are open to all: {address}/docs

Records are kept in {kept}. Stop with Ctrl-C."""

NO_KEYS = "without keys it listens on this machine only, not on {host}; make one first: saltbush keys create"


def add(commands: Any) -> None:
    """Declare the command."""
    parser = commands.add_parser("serve", help="listen for requests on this machine")
    parser.add_argument("--host", help="address to listen on (default 127.0.0.1); another than loopback needs keys")
    parser.add_argument("--port", help="port to listen on (default 8080)")
    parser.add_argument("--database", help="SQLAlchemy URL (default: a SQLite file in the data folder)")
    parser.add_argument("--workers", help="number of processes (default 2)")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Migrate, announce, serve until stopped."""
    for name in ("host", "port", "database", "workers"):
        given = getattr(arguments, name)
        if given is not None:
            os.environ[f"{PREFIX}{name.upper()}"] = given
    settings = Settings.from_environment()
    if settings.host not in LOOPBACK and not has_keys(settings):
        print(f"saltbush: {NO_KEYS.format(host=settings.host)}", file=sys.stderr)
        return 2
    if taken(settings):
        print(f"saltbush: another program listens on {address(settings)}; choose another --port", file=sys.stderr)
        return 1
    prepare(settings)
    resolve_name(WARM)(settings)
    said = KEYED if has_keys(settings) else REQUEST
    print(said.format(address=address(settings), kept=kept(settings)), flush=True)
    listen(settings)
    return 0


def has_keys(settings: Settings) -> bool:
    """Whether a key was ever made in this database; one that cannot be used has none."""
    from service.store.store import Store, StoreUnavailableError

    store = Store(settings.database_url)
    try:
        with store.reading() as reading:
            return reading.keys.any()
    except StoreUnavailableError:
        return False
    finally:
        store.close()


def kept(settings: Settings) -> str:
    """Where records are kept, without a password that an address may hold."""
    from sqlalchemy.engine import make_url

    return make_url(settings.database).render_as_string() if settings.database else str(settings.data.absolute())


def prepare(settings: Settings) -> None:
    """Make the data folder and bring the database up to date."""
    from service.store.store import Store

    settings.data.mkdir(parents=True, exist_ok=True)
    store = Store(settings.database_url)
    ready = store.ready()
    store.close()
    if not ready:
        from service.store.migrate import migrate

        migrate(settings.database_url, shipped("migrations"))


def taken(settings: Settings) -> bool:
    """Whether somebody listens there already; the server itself would share the port without a word."""
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((settings.host, settings.port))
        except OSError:
            return True
    return False


def address(settings: Settings) -> str:
    """Where a browser finds the service."""
    host = f"[{settings.host}]" if ":" in settings.host else settings.host
    return f"http://{host}:{settings.port}"


def listen(settings: Settings) -> None:
    """Serve with granian: one thread runs Python in each process, so that none waits for another's lock."""
    from granian import Granian
    from granian.constants import Interfaces
    from granian.log import LogLevels

    Granian(
        APPLICATION,
        factory=True,
        interface=Interfaces.WSGI,
        address="127.0.0.1" if settings.host == "localhost" else settings.host,
        port=settings.port,
        workers=settings.workers,
        blocking_threads=1,
        backpressure=512,
        log_level=LogLevels.warning,
        respawn_failed_workers=True,
        workers_kill_timeout=10,  # a worker told to stop while it still starts never hears it
    ).serve()
