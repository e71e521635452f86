"""A walk over every row of every shipped table, and over every crop, held to what the house promises of them."""

import csv
from collections.abc import Iterator
from pathlib import Path

from service.agronomy.tables import VERIFICATION_ORDER, Library, Row, SaltToleranceRow
from service.agronomy.units import Units
from service.catalog.catalog import Catalog

ROOT = Path(__file__).resolve().parents[2]
REFERENCES = ROOT / "tests" / "agronomy" / "references"
DESCRIBED = ("factor", "credit", "organic")
"""Kinds whose unit only describes the figure."""
UNITLESS = ("", "1")
CROPS = 100
EXPECTED = Path(__file__).with_name("fao29_disagreements.csv")


def every_row(catalog: Catalog) -> Iterator[tuple[str, str, Row]]:
    """File, kind and row of every shared table; own rows of the crops too."""
    for table in catalog.tables.values():
        for ref, rows in table.editions.values():
            yield from ((f"{table.id}/{ref.edition}, line {row.line}", table.rows, row) for row in rows)
    for file in catalog.files.values():
        for row in (*file.bands, *file.amounts, *file.salts, *([file.reaction] if file.reaction else [])):
            yield f"{file.ref.id}, line {row.line}", "crop", row


def test_every_row_has_a_source_and_a_mark(catalog: Catalog) -> None:
    """Sources stand in the list; a printed work says where the figure stands; nobody has read common practice."""
    wrong = []
    for place, _, row in every_row(catalog):
        printed = [source for source in row.sources if source not in ("practice", "computed")]
        if not row.sources or any(source not in catalog.sources for source in row.sources):
            wrong.append(f"{place}: sources {row.sources}")
        if row.verification not in VERIFICATION_ORDER:
            wrong.append(f"{place}: mark {row.verification!r}")
        if row.verification == "read" and not printed:
            wrong.append(f"{place}: read in no printed work")
        if any(catalog.sources[source].grade != "A" for source in printed if source in catalog.sources):
            wrong.append(f"{place}: a source below grade A")
    assert wrong == []


def test_every_unit_is_known_and_every_bound_the_right_way_round(catalog: Catalog, library: Library) -> None:
    units = library.index(Units.of)
    wrong = []
    for place, kind, row in every_row(catalog):
        for column in ("unit", "rate_unit", "basis_unit"):
            unit = getattr(row, column, "")
            if kind not in DESCRIBED and unit not in UNITLESS and not units.known(unit):
                wrong.append(f"{place}: unit {unit!r}")
        for low, high in (("lower", "upper"), ("rate_low", "rate_high"), ("minimum", "maximum")):
            below, above = getattr(row, low, None), getattr(row, high, None)
            if isinstance(below, float) and isinstance(above, float) and below > above:
                wrong.append(f"{place}: {low} {below} above {high} {above}")
    assert wrong == []


def test_breadth(catalog: Catalog) -> None:
    """At least a hundred targets, each with several names in both languages taken together, a depth and tables."""
    crops = catalog.crops
    assert len(crops) >= CROPS
    assert [crop.id for crop in crops.values() if not (crop.names["en"] and crop.names["es"])] == []
    assert [crop.id for crop in crops.values() if sum(map(len, crop.names.values())) < 4] == []
    assert [crop.id for crop in crops.values() if not crop.depth_in[0] < crop.depth_in[1]] == []
    assert [crop.id for crop in crops.values() if not (crop.sufficiency or crop.notes)] == []


def test_one_english_and_one_spanish_first_name_belong_to_one_crop(catalog: Catalog) -> None:
    """The first name heads a report: two crops must not share it."""
    for language in ("en", "es"):
        first = [crop.names[language][0].casefold() for crop in catalog.crops.values()]
        assert sorted({name for name in first if first.count(name) > 1}) == []


def test_groups_share_tables(catalog: Catalog) -> None:
    """Nothing is copied: crops point to shared rows and hold no class or rate of their own."""
    own = [
        file.ref.id for file in catalog.files.values() if any(not row.use_table for row in (*file.bands, *file.amounts))
    ]
    assert own == []


COLUMNS = {100: "ece_100pct_dS_m", 90: "ece_90pct_dS_m", 75: "ece_75pct_dS_m", 50: "ece_50pct_dS_m", 0: "ece_0pct_dS_m"}


def half_digit(figure: float) -> float:
    """Half of the last printed digit: one decimal below 10, whole numbers from there on."""
    return 0.05 if figure < 10 else 0.5


def disagreements(rows: list[SaltToleranceRow]) -> list[list[str]]:
    """Columns of FAO Irrigation and Drainage Paper 29, table 4, that a row's line misses by more than print rounds.

    Yield falls along a straight line from the threshold (Maas and Hoffman 1977), so that the ECe at a yield is
    threshold + loss / slope. Threshold, slope and the printed column each may be off by half of their last digit.
    """
    with (REFERENCES / "fao29_table4.csv").open(encoding="utf-8", newline="") as stream:
        printed = {row["crop"]: row for row in csv.DictReader(stream)}
    missed = []
    for row in rows:
        if row.crop not in printed or row.threshold_dS_m is None or not row.slope_pct_per_dS_m:
            continue
        slope, threshold = row.slope_pct_per_dS_m, row.threshold_dS_m
        for percent, column in COLUMNS.items():
            if not printed[row.crop][column]:
                continue
            figure = float(printed[row.crop][column])
            least = threshold - 0.05 + (100 - percent) / (slope + half_digit(slope)) - half_digit(figure)
            most = threshold + 0.05 + (100 - percent) / (slope - half_digit(slope)) + half_digit(figure)
            if not least - 1e-9 <= figure <= most + 1e-9:
                ours = f"{threshold + (100 - percent) / slope:.2f}"
                missed.append([row.crop, "|".join(row.sources), str(percent), ours, f"{figure:g}"])
    return sorted(missed)


def test_salt_tolerance_agrees_with_fao29_except_where_listed(library: Library) -> None:
    """Every row of every source with a line, against the 100/90/75/50/0 % columns; disagreements are listed.

    The list is a statement about the sources, not a tolerance: a row that begins or ceases to disagree fails here.
    """
    rows = list(library.rows("salt-tolerance", SaltToleranceRow))
    with EXPECTED.open(encoding="utf-8", newline="") as stream:
        listed = [line[:5] for line in list(csv.reader(stream))[1:]]
    assert disagreements(rows) == sorted(listed)


def test_crops_of_the_library_stand_on_rows_that_were_compared(catalog: Catalog) -> None:
    """The comparison reaches the crops: most that have a line have one of a crop that FAO29 prints."""
    with (REFERENCES / "fao29_table4.csv").open(encoding="utf-8", newline="") as stream:
        printed = {row["crop"] for row in csv.DictReader(stream)}
    lines = [crop.salt.crop for crop in catalog.crops.values() if crop.salt and crop.salt.slope_pct_per_dS_m]
    assert len([name for name in lines if name in printed]) * 2 > len(lines)
