"""Editions: which is in force, pins, crops on the tables of the day, and released editions that must not change."""

from datetime import date
from pathlib import Path

import pytest

from service.catalog.catalog import Catalog, load_catalog
from service.catalog.errors import CatalogError
from service.catalog.ledger import FILE, freeze, read_ledger, unreleased

FIRST, SECOND = "2025-01-01", "2027-06-01"
BEFORE, AFTER = date(2027, 5, 31), date(2027, 6, 1)


def olsen_low(catalog: Catalog, day: date, pins: dict[str, str] | None = None) -> float | None:
    """Where Colorado's lowest Olsen class ends for the tomato."""
    bands = catalog.library(day, pins).crops["tomato"].sufficiency
    return next(band.upper for band in bands if (band.calibration, band.method) == ("colorado", "olsen"))


@pytest.fixture
def two_editions(copy: Path) -> Catalog:
    """Colorado's classes with a later edition in which the lowest Olsen class of field crops ends at 5, not 7."""
    table = copy / "_shared" / "ratings-colorado"
    lines = (table / f"{FIRST}.csv").read_text("utf-8").splitlines(keepends=True)
    at = next(n for n, line in enumerate(lines) if "field,P,olsen" in line)
    assert ",7," in lines[at]
    lines[at] = lines[at].replace(",7,", ",5,")
    (table / f"{SECOND}.csv").write_text("".join(lines), "utf-8")
    return load_catalog([copy])


def test_crops_follow_the_tables_of_the_day(two_editions: Catalog) -> None:
    """The crop's own edition stays; the classes it points to are those in force."""
    first = olsen_low(two_editions, BEFORE)
    assert first == 7
    assert olsen_low(two_editions, AFTER) == 5


def test_a_pin_holds_the_tables_a_crop_points_to(two_editions: Catalog) -> None:
    """A pin wins over the calendar in both directions."""
    assert olsen_low(two_editions, AFTER, {"ratings-colorado": FIRST}) == 7
    assert olsen_low(two_editions, BEFORE, {"ratings-colorado": SECOND}) == 5


def test_crops_that_do_not_use_a_changed_table_are_the_same_objects(two_editions: Catalog) -> None:
    """What a new edition does not touch is not made again."""
    one, other = two_editions.library(BEFORE), two_editions.library(AFTER)
    untouched = [name for name in one.crops if one.crops[name] is other.crops[name]]
    touched = [name for name in one.crops if name not in untouched]
    assert "tomato" in touched
    assert untouched
    for name in untouched:
        assert "ratings-colorado" not in two_editions.files[name, one.crops[name].edition.edition].uses


def test_an_older_table_without_the_row_is_a_gap(copy: Path, two_editions: Catalog) -> None:
    """A crop may point to rows that only a later edition holds; before, it has no such class."""
    table = copy / "_shared" / "ratings-colorado"
    path = table / f"{FIRST}.csv"
    kept = [line for line in path.read_text("utf-8").splitlines(keepends=True) if "field,P,olsen" not in line]
    path.write_text("".join(kept), "utf-8")
    catalog = load_catalog([copy])
    bands = catalog.library(BEFORE).crops["tomato"].sufficiency
    assert not [band for band in bands if (band.calibration, band.method) == ("colorado", "olsen")]
    assert olsen_low(catalog, AFTER) == 5


def test_released_edition_that_was_changed_stops_the_start(copy: Path) -> None:
    """The fault names the file and says to make a new edition."""
    catalog = load_catalog([copy])
    freeze(copy, catalog.standing[copy], date(2026, 4, 20))
    load_catalog([copy])
    path = copy / "_shared" / "classes" / f"{FIRST}.csv"
    path.write_bytes(path.read_bytes().replace(b",read,", b",memory,", 1))
    with pytest.raises(CatalogError) as caught:
        load_catalog([copy])
    said = str(caught.value)
    assert str(path) in said
    assert "new edition" in said


def test_released_crop_that_was_changed_stops_the_start(copy: Path) -> None:
    """The hash of a crop covers all its files except the worked cases."""
    catalog = load_catalog([copy])
    freeze(copy, catalog.standing[copy], date(2026, 4, 20))
    folder = copy / "tomato" / FIRST
    (folder / "cases.toml").write_text("", "utf-8")
    load_catalog([copy])
    with (folder / "crop.toml").open("a", encoding="utf-8") as stream:
        stream.write("# changed\n")
    with pytest.raises(CatalogError, match="tomato"):
        load_catalog([copy])


def test_released_edition_that_is_gone_stops_the_start(copy: Path) -> None:
    """Taking a file away is a change too."""
    catalog = load_catalog([copy])
    freeze(copy, catalog.standing[copy], date(2026, 4, 20))
    (copy / "_shared" / "ratings-iowa" / f"{FIRST}.csv").rename(copy / "_shared" / "ratings-iowa" / f"{SECOND}.csv")
    with pytest.raises(CatalogError, match="ratings-iowa 2025-01-01, released on 2026-04-20, is gone"):
        load_catalog([copy])


def test_freezing_adds_only_what_is_new(two_editions: Catalog, copy: Path) -> None:
    """Lines written once stay as they are; a draft becomes one more line."""
    drafts = [item for item in two_editions.standing[copy] if item.ref.edition == SECOND]
    released = [item for item in two_editions.standing[copy] if item.ref.edition == FIRST]
    freeze(copy, released, date(2026, 4, 20))
    before = read_ledger(copy, [])
    assert unreleased(copy, two_editions.standing[copy]) == drafts
    assert freeze(copy, two_editions.standing[copy], date(2027, 6, 1)) == drafts
    after = {line[:4] for line in read_ledger(copy, [])}
    assert {line[:4] for line in before} < after
    assert ("ratings-colorado", SECOND, drafts[0].ref.sha256, "2027-06-01") in after


def test_a_list_with_other_columns_is_refused(copy: Path) -> None:
    """The list of released editions is read as strictly as any table."""
    (copy / FILE).write_text("id,hash\n", "utf-8")
    with pytest.raises(CatalogError, match="id,edition,sha256,released_on"):
        load_catalog([copy])


def test_shipped_editions_are_released(catalog: Catalog) -> None:
    """Once the list exists it holds every shipped edition: ``saltbush crops freeze`` after adding one.

    That the hashes fit was shown by loading.
    """
    for folder, standing in catalog.standing.items():
        if (folder / FILE).exists():
            assert [f"{item.ref.id}/{item.ref.edition}" for item in unreleased(folder, standing)] == []
