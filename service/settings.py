"""Everything that a deployment may choose, read once from the environment. No default is a secret."""

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.metadata import EntryPoint, entry_points
from importlib.util import find_spec
from pathlib import Path

PREFIX = "SALTBUSH_"
FOLDER_GROUP = "saltbush.crop_folders"
LOOPBACK = ("127.0.0.1", "localhost", "::1")
_HERE = Path(__file__).resolve().parent
PACKED = _HERE / "shipped"
"""Where tables and migrations stand in an installed copy."""


class SettingError(Exception):
    """A setting that cannot be used; its text names the variable and what would be right."""


def shipped(name: str) -> Path:
    """A folder that travels with the service (``crops``, ``migrations``), in a checkout or in an installed copy."""
    packed = PACKED / name
    return packed if packed.is_dir() else _HERE.parent / name


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings of one process.

    Attributes:
        data: folder for whatever the service keeps; made when serving starts.
        database: SQLAlchemy URL; blank means a SQLite file in ``data``.
        host, port, workers: where to listen and with how many processes.
        crop_folders: folders of tables and crops, the shipped one first.
    """

    data: Path = Path("saltbush-data")
    database: str = ""
    host: str = "127.0.0.1"
    port: int = 8080
    workers: int = 2
    crop_folders: tuple[Path, ...] = field(default_factory=lambda: (shipped("crops"),))

    @property
    def database_url(self) -> str:
        """The URL in force."""
        return self.database or f"sqlite:///{(self.data / 'saltbush.db').absolute()}"

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] | None = None) -> "Settings":
        """The settings as the environment states them.

        Raises:
            SettingError: a variable does not hold what it should.
        """
        given = os.environ if environment is None else environment
        return cls(
            data=Path(given.get(f"{PREFIX}DATA") or "saltbush-data"),
            database=given.get(f"{PREFIX}DATABASE", ""),
            host=given.get(f"{PREFIX}HOST") or "127.0.0.1",
            port=_whole(given, "PORT", 8080, 1, 65_535),
            workers=_whole(given, "WORKERS", 2, 1, 64),
            crop_folders=(shipped("crops"), *_listed(given.get(f"{PREFIX}CROP_FOLDERS", "")), *_installed()),
        )


def _whole(given: Mapping[str, str], name: str, default: int, low: int, high: int) -> int:
    text = given.get(f"{PREFIX}{name}") or str(default)
    if not (text.isascii() and text.isdigit() and low <= int(text) <= high):
        raise SettingError(f"{PREFIX}{name} is {text!r}; it must be a whole number from {low} to {high}")
    return int(text)


def _listed(text: str) -> list[Path]:
    return [Path(part) for part in text.split(os.pathsep) if part]


def _installed() -> list[Path]:
    """Crop folders of installed packages. The entry point names ``package:folder``; no code of it is run."""
    return [folder for point in entry_points(group=FOLDER_GROUP) for folder in _folder_of(point)]


def _folder_of(point: EntryPoint) -> list[Path]:
    spec = find_spec(point.module.partition(".")[0])
    if spec is None or spec.origin is None:
        raise SettingError(f"the entry point {point.name!r} names a package that cannot be found: {point.module}")
    return [Path(spec.origin).parent.joinpath(*point.module.split(".")[1:], point.attr or "")]
