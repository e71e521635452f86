"""The shipped catalogue is sound, editions follow the calendar, pins work, and a broken folder stops the start."""

import shutil
from datetime import date
from pathlib import Path

import pytest

from service.catalog.catalog import Catalog, load_catalog
from service.catalog.check import check_catalog
from service.catalog.errors import CatalogError


def test_shipped_tables_are_sound(catalog: Catalog) -> None:
    """Sources, units, methods, bounds, classes, caps and pointers hold in every shipped edition."""
    assert [str(fault) for fault in check_catalog(catalog)] == []


def test_sixteen_targets_at_least(catalog: Catalog) -> None:
    """The targets that the first release promises are all there."""
    promised = {
        "kentucky-bluegrass-lawn",
        "tall-fescue-lawn",
        "bermudagrass-lawn",
        "buffalograss-lawn",
        "vegetable-garden",
        "tomato",
        "chile-pepper",
        "sweet-corn",
        "snap-bean",
        "lettuce",
        "onion",
        "blueberry",
        "apple",
        "shade-tree",
        "perennial-flower-bed",
        "alfalfa",
    }
    assert promised <= set(catalog.crops)


def test_edition_by_day_and_by_pin(copy: Path) -> None:
    """The newest edition not after the day is in force; before the first, the first; a pin wins."""
    table = copy / "_shared" / "classes"
    (table / "2027-06-01.csv").write_bytes((table / "2025-01-01.csv").read_bytes() + b"")
    catalog = load_catalog([copy])
    assert catalog.library(date(2027, 5, 31)).editions["classes"].edition == "2025-01-01"
    assert catalog.library(date(2027, 6, 1)).editions["classes"].edition == "2027-06-01"
    assert catalog.library(date(1999, 1, 1)).editions["classes"].edition == "2025-01-01"
    assert catalog.library(date(2028, 1, 1), {"classes": "2025-01-01"}).editions["classes"].edition == "2025-01-01"
    assert catalog.unknown_pins({"classes": "2031-01-01", "no-such": "x"}) == ["classes", "no-such"]


def test_same_day_same_library(catalog: Catalog) -> None:
    """Libraries are shared between requests of the same editions, so that what is prepared once stays prepared."""
    assert catalog.library(date(2026, 4, 20)) is catalog.library(date(2026, 9, 1))


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda folder: (folder / "tomato/2025-01-01/crop.toml").write_text("id = "), "not valid TOML"),
        (lambda folder: (folder / "tomato/2025-01-01").rename(folder / "tomato/spring"), "no date"),
        (lambda folder: shutil.copy(folder / "tomato/2025-01-01/crop.toml", folder / "tomato"), "in no edition"),
        (lambda folder: (folder / "_shared/classes/about.toml").unlink(), "about.toml: the file is missing"),
        (lambda folder: (folder / "_shared/classes/about.toml").write_text('rows = "classs"\n'), "classs"),
        (lambda folder: (folder / "_shared/classes/2025-01-01.csv").unlink(), "no edition"),
        (lambda folder: (folder / "sources.csv").write_text("id,title\n"), "columns"),
    ],
)
def test_broken_folder_refuses_to_load(copy: Path, spoil, said: str) -> None:  # type: ignore[no-untyped-def]
    """Every fault stops the start and names its file."""
    spoil(copy)
    with pytest.raises(CatalogError) as caught:
        load_catalog([copy])
    assert said in str(caught.value)


def test_what_an_open_spreadsheet_leaves_is_no_edition(copy: Path) -> None:
    (copy / "_shared" / "classes" / "~$2025-01-01.csv").write_bytes(b"\x00\x01")
    (copy / "_shared" / "classes" / ".~lock.csv").write_bytes(b"\x00\x01")
    assert list(load_catalog([copy]).tables["classes"].editions) == ["2025-01-01"]
