"""The workshop of the library as a soil scientist uses it, from the command line."""

import shutil
from datetime import date
from itertools import takewhile
from pathlib import Path

import pytest

from service.catalog.catalog import load_catalog
from service.commands import main

ROOT = Path(__file__).resolve().parents[2]
PLUGIN = ROOT / "tests" / "plugin" / "hardpan_tables" / "crops"
FIRST = "2025-01-01"


@pytest.fixture(autouse=True)
def plain_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("SALTBUSH_CROP_FOLDERS", raising=False)
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """A checkout's folder of tables, without the list of released editions."""
    folder = tmp_path / "library"
    shutil.copytree(ROOT / "crops", folder, ignore=shutil.ignore_patterns("editions.csv"))
    return folder


@pytest.fixture
def hops(tmp_path: Path) -> Path:
    """A folder of one's own."""
    return Path(shutil.copytree(PLUGIN, tmp_path / "hops"))


def change(path: Path, old: str, new: str) -> Path:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")
    return path


def said(capsys: pytest.CaptureFixture[str]) -> tuple[str, str]:
    captured = capsys.readouterr()
    return captured.out, captured.err


def test_check_of_a_sound_folder(hops: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Status 0; what is not released yet is a remark."""
    assert main(["crops", "check", str(hops)]) == 0
    out, err = said(capsys)
    assert "4 editions are not released yet" in out
    assert err == ""


@pytest.mark.parametrize(
    ("file", "old", "new", "place", "right"),
    [
        ("hop/2026-01-01/cases.toml", 'P = "low"', 'P = "high"', "cases.toml, line 2, key expect.ratings", "high"),
        (
            "hop/2026-01-01/cases.toml",
            "low = 40",
            "low = 50",
            "cases.toml, line 2, key expect.rates",
            "50 to 40 lb/acre",
        ),
        (
            "hop/2026-01-01/cases.toml",
            'source = "',
            'origin = "',
            "line 2, key source",
            "where the figures were printed",
        ),
        ("hop/2026-01-01/cases.toml", 'unit = "mg/kg"', 'unit = "mg"', "key results.0.unit", "mg/kg"),
        ("hop/2026-01-01/cases.toml", 'crop = "hop"', 'crop = "hops"', "key target.crop", "'hop'"),
        ("hop/2026-01-01/cases.toml", "[[case]]", "[[cases]]", "key case: no worked case", "[[case]]"),
        (
            "hop/2026-01-01/crop.toml",
            '"season_perennial_vegetable"',
            '"nobody_says"',
            "key notes",
            'en = "..." beside the code',
        ),
        ("hop/2026-01-01/crop.toml", 'es = ["lúpulo"]', "es = []", "key names", "es = ["),
        ("hop/2026-01-01/crop.toml", 'es = "Los brotes', '# es = "Los brotes', "key cautions", 'es = "..."'),
        ("hop/2026-01-01/crop.toml", ', es = "En valles', ', note = "En valles', "key notes", 'es = "..."'),
        ("hop/2026-01-01/crop.toml", '"notice"', '"grave"', "key severity", "one of notice, caution, warning, danger"),
        ("_shared/ratings-hardpan/2026-01-01.csv", "low,,12", "low,,dozen", "line 2, column upper", "a number"),
        ("_shared/ratings-hardpan/2026-01-01.csv", "high,12", "high,11", "line 3, column lower", "one class"),
        (
            "_shared/amounts-hardpan/2026-01-01.csv",
            "90,110",
            "90,400",
            "line 4, column rate_high",
            "at most 300 lb/acre",
        ),
        ("_shared/calibrations-hardpan/about.toml", '"calibrations"', '"methods"', "key extends", "calibration rows"),
    ],
)
def test_check_names_place_and_remedy(
    hops: Path, capsys: pytest.CaptureFixture[str], file: str, old: str, new: str, place: str, right: str
) -> None:
    """Status 1; the fault names the file, where in it, what is wrong and what would be right."""
    path = change(hops / file, old, new)
    assert main(["crops", "check", str(hops)]) == 1
    faults = [line for line in said(capsys)[1].splitlines() if line.startswith(str(path)) and place in line]
    assert faults
    assert right in faults[0].partition("; expected ")[2]


def test_check_of_a_folder_that_is_not_there(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["crops", "check", "nowhere"]) == 2
    assert "nowhere" in said(capsys)[1]


def taught_case() -> str:
    """The worked case that crops/README.md teaches with."""
    lines = (ROOT / "crops" / "README.md").read_text("utf-8").splitlines()
    start = lines.index("    [[case]]")
    block = takewhile(lambda line: not line or line.startswith("    "), lines[start:])
    return "\n".join(line.removeprefix("    ") for line in block)


def taught_after(line: str, deeper: int = 4) -> list[str]:
    """The indented lines of crops/README.md that begin with this one."""
    lines = (ROOT / "crops" / "README.md").read_text("utf-8").splitlines()
    block = takewhile(lambda each: not each or each.startswith(" " * deeper), lines[lines.index(line) :])
    return [each.removeprefix("    ") for each in block]


def test_a_calibration_and_words_of_one_s_own_as_the_readme_teaches(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The files as they are printed there: the crop goes by its county's classes and says its own caution."""
    flags = ["--english", "tomatillo", "--spanish", "tomate verde", "--scientific", "Physalis philadelphica"]
    assert main(["crops", "new", "tomatillo", "--folder", "mine", "--like", "tomato", *flags]) == 0
    (place,) = (tmp_path / "mine" / "tomatillo").iterdir()
    path = tmp_path
    for line in taught_after("    mine/sources.csv"):
        if line.startswith("mine/"):
            path = tmp_path / line
            path.parent.mkdir(parents=True, exist_ok=True)
        elif line:
            with path.open("a", encoding="utf-8") as stream:
                stream.write(line.strip() + "\n")
    lines = taught_after("    county,P,olsen,ratings-mine,all,practice,practice")
    for name, line in zip(("sufficiency.csv", "amounts.csv"), lines, strict=False):
        with (place / name).open("a", encoding="utf-8") as stream:
            stream.write(line + "\n")
    about = change(place / "crop.toml", "calibrations = [", 'calibrations = ["county", ')
    notes, cautions = taught_after("    notes = ["), taught_after("    [[cautions]]")
    head, cut, _ = "\n".join(notes).partition("\n[[cautions]]")
    change(about, 'notes = ["season_warm_vegetables"]', head)
    with about.open("a", encoding="utf-8") as stream:
        stream.write("\n".join(["", *cautions]))
    (place / "cases.toml").write_text(taught_case().replace("medium", "low"), "utf-8")
    assert main(["crops", "check", "mine"]) == 0, said(capsys)
    catalog = load_catalog([ROOT / "crops", tmp_path / "mine"])
    crop = catalog.crops["tomatillo"]
    assert crop.texts["es"]["crop.season_tomatillo"].startswith("Al menos dos plantas")
    assert [caution.code for caution in crop.cautions] == ["tomatillo_leaves"]
    assert cut


def test_the_half_hour_of_the_readme(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """New, the worked case as it is printed there, check, release: what the README teaches comes out."""
    folder = tmp_path / "mine"
    flags = ["--english", "tomatillo, husk tomato", "--spanish", "tomatillo", "--scientific", "Physalis philadelphica"]
    assert main(["crops", "new", "tomatillo", "--folder", str(folder), "--like", "tomato", *flags]) == 0
    (place,) = (folder / "tomatillo").iterdir()
    assert {path.name for path in place.iterdir()} == {"crop.toml", "sufficiency.csv", "amounts.csv", "cases.toml"}
    assert main(["crops", "check", str(folder)]) == 1
    assert "no worked case" in said(capsys)[1]
    (place / "cases.toml").write_text(taught_case(), "utf-8")
    assert main(["crops", "check", str(folder)]) == 0
    assert main(["crops", "freeze", str(folder)]) == 0
    crop = load_catalog([ROOT / "crops", folder]).crops["tomatillo"]
    assert (crop.kind, crop.names["es"]) == ("vegetable", ("tomatillo",))


def test_new_crop_without_a_relative_loads_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "mine"
    flags = ["--english", "hop", "--spanish", "lúpulo", "--scientific", "Humulus lupulus", "--kind", "field"]
    status = main(["crops", "new", "hop", "--folder", str(folder), *flags, "--group", "bines", "--depth", "0", "12"])
    assert status == 0
    said(capsys)
    crop = load_catalog([ROOT / "crops", folder]).crops["hop"]
    assert (crop.depth_in, crop.sufficiency) == ((0, 12), ())


@pytest.mark.parametrize(
    ("arguments", "status", "why"),
    [
        (["Sweet_Corn"], 1, "is no id"),
        (["apple"], 1, "there is apple already"),
        (["hop", "--like", "hopps"], 1, "no crop 'hopps'"),
        (["hop"], 2, "--english"),
    ],
)
def test_new_refuses(capsys: pytest.CaptureFixture[str], arguments: list[str], status: int, why: str) -> None:
    assert main(["crops", "new", *arguments]) == status
    assert why in said(capsys)[1]
    assert not Path("crops").exists()


def test_compare_tells_in_words_whose_answers_change(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A limit moved from 15 to 18 makes 15-18 another class; nothing else is told."""
    table = library / "_shared" / "ratings-colorado"
    later = shutil.copy(table / f"{FIRST}.csv", table / "2027-01-01.csv")
    change(later, "field,P,olsen,mg/kg,medium,medium,7,15,", "field,P,olsen,mg/kg,medium,medium,7,18,")
    change(later, "field,P,olsen,mg/kg,high,high,15,", "field,P,olsen,mg/kg,high,high,18,")
    ends = [f"ratings-colorado/{FIRST}", str(later)]
    assert main(["crops", "compare", *ends, "--folder", str(library)]) == 0
    out, _ = said(capsys)
    assert "upper: 15.0 -> 18.0" in out
    (told,) = out.partition("Whose answers change\n")[2].splitlines()
    assert told.endswith("with phosphorus by Olsen (bicarbonate) 15–18 ppm (Colorado): was high, now medium.")
    assert main(["crops", "compare", *ends, "--folder", str(library), "--language", "es"]) == 0
    assert "antes alto, ahora medio" in said(capsys)[0]


def test_compare_of_editions_that_are_not_there(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["crops", "compare", f"apple/{FIRST}", "apple/2024-01-01"]) == 2
    assert f"it has {FIRST}" in said(capsys)[1]
    assert main(["crops", "compare", f"aple/{FIRST}", f"aple/{FIRST}"]) == 2
    assert "no table or crop 'aple'" in said(capsys)[1]
    assert main(["crops", "compare", f"apple/{FIRST}", f"pear/{FIRST}"]) == 2


def test_freeze_then_change_then_a_new_edition(hops: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A released figure cannot be changed in place; in a new edition it can."""
    assert main(["crops", "freeze", str(hops)]) == 0
    assert "4 editions released" in said(capsys)[0]
    table = hops / "_shared" / "ratings-hardpan" / "2026-01-01.csv"
    released = table.read_text("utf-8")
    table.write_text(released.replace("12", "14"), "utf-8")
    assert main(["crops", "check", str(hops)]) == 1
    assert f"{table}: this edition was released on {date.today()}" in said(capsys)[1]
    table.write_text(released, "utf-8")
    table.with_name("2027-01-01.csv").write_text(released.replace("12", "14"), "utf-8")
    assert main(["crops", "check", str(hops)]) == 0
    assert main(["crops", "freeze", str(hops)]) == 0
    assert "1 editions released" in said(capsys)[0].splitlines()[-1]


def test_freeze_anew_takes_the_files_as_they_stand(hops: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Before the first release, while tables are still corrected."""
    assert main(["crops", "freeze", str(hops)]) == 0
    change(hops / "_shared" / "ratings-hardpan" / "2026-01-01.csv", "low,,12", "low,,11")
    assert main(["crops", "freeze", str(hops)]) == 1
    assert main(["crops", "freeze", str(hops), "--anew"]) == 0
    assert "4 editions released" in said(capsys)[0].splitlines()[-1]
