"""Every kind of slip that ``saltbush crops check`` looks for, made in a copy of the tables and found at its place."""

from collections.abc import Callable
from pathlib import Path

import pytest

from service.catalog.catalog import load_catalog
from service.catalog.check import check_catalog, remarks
from service.catalog.errors import Fault

COLORADO = "_shared/ratings-colorado/2025-01-01.csv"
LAWN_N = "_shared/amounts-general-turf/2025-01-01.csv"
SCHEDULES = "_shared/nitrogen-schedules/2025-01-01.csv"
ALFALFA = "_shared/amounts-montana-alfalfa/2025-01-01.csv"
LOW = "colorado,field,P,olsen,mg/kg,low,low,,7,"
MEDIUM = "colorado,field,P,olsen,mg/kg,medium,medium,7,15,"
TOMATO = "tomato/2025-01-01"
HEADER = "calibration,analyte,method,unit,rating,lower,upper,sources,verification\n"
RULES = "_shared/material-rules/2025-01-01.csv"
LIMITS = "_shared/application-limits/2025-01-01.csv"
RATES = "calibration,nutrient,rate_low,rate_high,rate_unit,per,sources,verification\n"
Change = Callable[[str, str, str], Path]


def found(folder: Path, before: set[str]) -> list[Fault]:
    """The faults that were not there before."""
    return [fault for fault in check_catalog(load_catalog([folder])) if fault.wrong not in before]


@pytest.fixture
def before(copy: Path) -> set[str]:
    """What the copy has to begin with."""
    return {fault.wrong for fault in check_catalog(load_catalog([copy]))}


@pytest.mark.parametrize(
    ("file", "old", "new", "column", "said"),
    [
        (COLORADO, LOW, LOW.replace("mg/kg", "mg/kgg"), "unit", "'mg/kgg' is no unit"),
        (COLORADO, LOW, LOW.replace("mg/kg", "dS/m"), "unit", "P by olsen is never given in dS/m"),
        (COLORADO, LOW, LOW.replace("olsen", "olson"), "method", "P is not measured by 'olson'"),
        (COLORADO, LOW, LOW.replace(",P,", ",Phos,"), "analyte", "'Phos' is no analyte"),
        (COLORADO, MEDIUM, MEDIUM.replace(",7,15,", ",6,15,"), "lower", "they overlap"),
        (COLORADO, MEDIUM, MEDIUM.replace(",7,15,", ",15,7,"), "upper", "7 is below lower 15"),
        (COLORADO, LOW, LOW.replace("colorado,", "kolorado,"), "calibration", "kolorado"),
        (COLORADO, LOW, LOW.replace(",low,low,", ",lo,low,"), "rating", "'lo' is no such word"),
        (COLORADO, "15,csu-0502", "15,csu-9999", "sources", "csu-9999"),
        (SCHEDULES, ",not_sand,", ",no_sand,", "condition", "'no_sand' is no such word"),
        (ALFALFA, ",calcareous_silty,", ",limy_silty,", "when", "'limy_silty' is no such word"),
        (RULES, "saline,4,dS/m,,,chloride,", "salin,4,dS/m,,,chloride,", "when", "'salin' is no such word"),
        (RULES, "saline,4,dS/m,,,chloride,", "saline,4,dS/m,,,chlorid,", "property", "'chlorid' is no such word"),
        (RULES, "chloride,,,,,,,exclude,", "chloride,,,,,,,exlude,", "action", "'exlude' is no such word"),
        (LIMITS, "n_lawn_dose,N,lawn|turf,", "n_lawn_dose,N,lawns|turf,", "uses", "'lawns' is no such word"),
        (LIMITS, "lawn|turf,,heat,", "lawn|turf,,hot,", "when", "'hot' is no such word"),
        (
            LIMITS,
            "s_turf_dose,S,lawn|turf,established",
            "s_turf_dose,S,lawn|turf,grown",
            "stages",
            "'grown' is no such",
        ),
        (LIMITS, "lb/1000 ft2,true,split,", "lb/1000 ft2,true,splitt,", "action", "'splitt' is no such word"),
        (f"{TOMATO}/crop.toml", 'kind = "vegetable"', 'kind = "veg"', "kind", "'veg'"),
        (f"{TOMATO}/crop.toml", '"colorado"', '"kolorado"', "calibrations", "kolorado"),
        (f"{TOMATO}/crop.toml", "pH_high = 8.3", "pH_high = 5", "reaction", "pH_high is not above pH_low"),
        (f"{TOMATO}/crop.toml", '["msu-soilscoop"]', '["msu-soup"]', "sources", "msu-soup"),
    ],
)
def test_slip_is_found_at_its_place(
    copy: Path, change: Change, before: set[str], file: str, old: str, new: str, column: str, said: str
) -> None:
    """The fault names the file that was changed, the line where there is one, the column, and what is wrong."""
    path = change(file, old, new)
    faults = [fault for fault in found(copy, before) if said in fault.wrong]
    assert faults
    assert {(fault.file, fault.column) for fault in faults} == {(path, column)}
    assert all(fault.line for fault in faults) or path.suffix == ".toml"
    assert all(fault.right for fault in faults)


@pytest.mark.parametrize(
    ("file", "text", "column", "said"),
    [
        ("sufficiency.csv", f"{HEADER}utah,Zn,olsen,mg/kg,low,,5,practice,practice\n", "method", "Zn is not measured"),
        ("sufficiency.csv", f"{HEADER}utah,Zn,dtpa,mg/kg,low,,5,made-up,read\n", "sources", "'made-up'"),
        ("sufficiency.csv", f"{HEADER}utah,Zn,dtpa,mg/kg,low,,5,practice,read\n", "verification", "no printed source"),
        (
            "sufficiency.csv",
            f"{HEADER}utah,Zn,dtpa,mg/kg,low,,5,practice,practice\nutah,Zn,dtpa,mg/kg,high,4,,practice,practice\n",
            "lower",
            "low ends at 5.0 but high begins at 4.0",
        ),
        (
            "amounts.csv",
            f"{RATES}utah,N,,,lb/acre,year,practice,practice\n",
            "rate_low",
            "neither a rate nor an equation",
        ),
        (
            "amounts.csv",
            f"{RATES}utah,N,3,2,lb/acre,year,practice,practice\n",
            "rate_high",
            "2 is below rate_low 3",
        ),
        ("amounts.csv", f"{RATES}utah,N,3,,lb/acre,year,practice,practice\n", "rate_high", "the cell is blank"),
        ("amounts.csv", f"{RATES}utah,N,-3,2,lb/acre,year,practice,practice\n", "rate_low", "below zero"),
        ("amounts.csv", f"{RATES}utah,N,1,2,mg/kg,year,practice,practice\n", "rate_unit", "no unit of a rate"),
        ("amounts.csv", f"{RATES}utah,Ni,1,2,lb/acre,year,practice,practice\n", "nutrient", "no nutrient"),
    ],
)
def test_slip_in_a_crop_s_own_rows_is_found(
    copy: Path, before: set[str], file: str, text: str, column: str, said: str
) -> None:
    """Rows written out in a crop's folder are held to the same."""
    path = copy / TOMATO / file
    path.write_text(text, "utf-8")
    faults = [fault for fault in found(copy, before) if said in fault.wrong]
    assert [(fault.file, fault.column) for fault in faults] == [(path, column)]
    assert faults[0].line in (2, 3)


def test_rate_above_a_hard_cap_is_found(copy: Path, before: set[str]) -> None:
    """The year's cap for beds is 7 lb N per 1,000 ft2: 305 lb/acre. A rate of 310 never leaves, 300 does."""
    path = copy / TOMATO / "amounts.csv"
    for rate, expected in (("100,310", ["amounts.csv"]), ("100,300", []), ("310,", ["amounts.csv"]), ("300,", [])):
        path.write_text(f"{RATES}utah,N,{rate},lb/acre,year,practice,practice\n", "utf-8")
        over = [fault for fault in found(copy, before) if "above the hard cap n_bed_year" in fault.wrong]
        assert [fault.file.name for fault in over] == expected


def test_unknown_equation_and_schedule_are_found(copy: Path, before: set[str]) -> None:
    """A row names algebra and timing that exist."""
    header = "calibration,nutrient,equation,rate_unit,schedule,per,sources,verification\n"
    text = f"{header}utah,N,by_guess,lb/acre,whenever,year,practice,practice\n"
    (copy / TOMATO / "amounts.csv").write_text(text, "utf-8")
    said = [fault.column for fault in found(copy, before)]
    assert {"equation", "schedule"} <= set(said)


def test_two_groups_of_one_calibration_that_overlap_are_found(copy: Path, before: set[str]) -> None:
    """Each table is sound; bringing both groups together gives a figure two classes."""
    header = "calibration,analyte,method,use_table,use_group,sources,verification\n"
    rows = [
        f"oregon-east,NO3-N,kcl_extract,ratings-oregon-east,{group},practice,practice" for group in ("annual", "all")
    ]
    shared = (copy / "_shared/ratings-oregon-east/2025-01-01.csv").read_text("utf-8")
    row = next(line for line in shared.splitlines() if ",annual,NO3-N,kcl_extract," in line)
    with (copy / "_shared/ratings-oregon-east/2025-01-01.csv").open("a", encoding="utf-8") as stream:
        stream.write(row.replace(",annual,", ",all,") + "\n")
    path = copy / TOMATO / "sufficiency.csv"
    path.write_text(header + "\n".join(rows) + "\n", "utf-8")
    faults = [fault for fault in found(copy, before) if "overlap" in fault.wrong]
    assert {fault.file for fault in faults} == {path}


def test_gap_is_a_remark_and_no_fault(copy: Path, change: Change, before: set[str]) -> None:
    """A gap may be what the source prints: it is told, but the check passes."""
    path = change(COLORADO, MEDIUM, MEDIUM.replace(",7,15,", ",9,15,"))
    assert found(copy, before) == []
    told = [note for note in remarks(load_catalog([copy])) if note.file == path]
    assert [note.wrong for note in told] == ["colorado field P olsen: no class from 7.0 to 9.0, between low and medium"]


def test_single_figure_without_a_class_is_told(copy: Path, change: Change) -> None:
    """Two classes that both leave out their common limit leave a gap of one figure; both including it overlap."""
    path = copy / TOMATO / "sufficiency.csv"
    header = HEADER.replace("upper,", "upper,lower_inclusive,upper_inclusive,")
    row = "utah,Zn,dtpa,mg/kg,low,,5,true,{},practice,practice\nutah,Zn,dtpa,mg/kg,high,5,,{},false,practice,practice\n"
    path.write_text(header + row.format("false", "false"), "utf-8")
    assert any("no class at 5.0" in note.wrong for note in remarks(load_catalog([copy])) if note.file == path)
    path.write_text(header + row.format("true", "true"), "utf-8")
    assert any("overlap" in fault.wrong for fault in check_catalog(load_catalog([copy])) if fault.file == path)


def test_idle_source_is_told(copy: Path) -> None:
    """A source that no row names is a remark."""
    with (copy / "sources.csv").open("a", encoding="utf-8") as stream:
        stream.write("nobody-cites-me,Author,2001,Title,Publisher,,,A\n")
    (note,) = (note for note in remarks(load_catalog([copy])) if note.file.name == "sources.csv")
    assert "nobody-cites-me" in note.wrong


def test_trait_that_looks_like_another_is_told(copy: Path, change: Change, before: set[str]) -> None:
    """A folder of one's own may have new traits; one that is almost a known one is most likely misspelled."""
    path = change(f"{TOMATO}/crop.toml", '"fruiting"', '"fruitng"')
    assert found(copy, before) == []
    (note,) = (note for note in remarks(load_catalog([copy])) if note.file == path)
    assert (note.column, note.right) == ("traits", "perhaps 'fruiting'")


def test_source_of_low_grade_is_refused(copy: Path, change: Change, before: set[str]) -> None:
    """Grade C is never cited."""
    with (copy / "sources.csv").open("a", encoding="utf-8") as stream:
        stream.write("hearsay,Author,2001,Title,Publisher,,,C\n")
    change(COLORADO, "7,csu-0502", "7,hearsay")
    assert [fault.wrong for fault in found(copy, before)] == ["hearsay is not of grade A"]


def test_pointer_that_leads_nowhere_stops_the_load(copy: Path, change: Change) -> None:
    """It names the crop's file and the line."""
    from service.catalog.errors import CatalogError

    path = change(f"{TOMATO}/sufficiency.csv", "ratings-utah,all", "ratings-utah,al")
    with pytest.raises(CatalogError) as caught:
        load_catalog([copy])
    assert f"{path}, line " in str(caught.value)
    assert "has nothing in group 'al'" in str(caught.value)
