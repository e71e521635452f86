"""Which folders a command of the workshop reads."""

from collections.abc import Iterable
from pathlib import Path

from service.catalog.catalog import Catalog, load_catalog
from service.settings import SettingError, Settings, shipped

WHOLE = "_shared/analytes"
"""What a folder holds that is a library of its own and not an addition to the shipped one."""


def read_with(folders: Iterable[Path]) -> Catalog:
    """The folders in force and some more; a whole library (a checkout) stands for the shipped one.

    Raises:
        SettingError: a folder is not there.
        CatalogError: a file is at fault.
    """
    added = [folder.resolve() for folder in folders]
    for folder in added:
        if not folder.is_dir():
            raise SettingError(f"no such folder: {folder}")
    known = [folder.resolve() for folder in Settings.from_environment().crop_folders]
    if any((folder / WHOLE).is_dir() for folder in added):
        known.remove(shipped("crops").resolve())
    return load_catalog([*known, *added])


def inside(catalog: Catalog, folder: Path) -> Path:
    """The folder as the catalogue knows it."""
    return next(place for place in catalog.standing if place.resolve() == folder.resolve())
