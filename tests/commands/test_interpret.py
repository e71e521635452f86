"""``saltbush interpret``, ``crops check``, ``openapi``: exit status 0 done, 1 the input is at fault, 2 usage."""

import io
import json
from pathlib import Path

import pytest

from service.commands import main

ROOT = Path(__file__).resolve().parents[2]
CASE = ROOT / "openapi" / "examples" / "interpretations.request.json"


def test_json_answer_without_server_or_database(tmp_path, monkeypatch, capfdbinary):
    monkeypatch.chdir(tmp_path)
    assert main(["interpret", str(CASE)]) == 0
    answer = json.loads(capfdbinary.readouterr().out)
    assert (answer["id"], answer["outcome"]) == (None, "released")
    assert list(tmp_path.iterdir()) == []


def test_text_answer_into_a_file(tmp_path):
    output = tmp_path / "report.txt"
    assert main(["interpret", str(CASE), "--format", "text", "--output", str(output)]) == 0
    assert "Soil report" in output.read_text("utf-8")


def test_calendar_into_a_file(tmp_path):
    output = tmp_path / "dates.ics"
    assert main(["interpret", str(CASE), "--format", "ics", "--output", str(output)]) == 0
    assert output.read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")
    assert output.read_bytes().endswith(b"END:VCALENDAR\r\n")


def test_standard_input(monkeypatch, capfdbinary):
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(CASE.read_bytes())))
    assert main(["interpret", "-"]) == 0
    assert json.loads(capfdbinary.readouterr().out)["outcome"] == "released"


def test_any_outcome_is_done(tmp_path, capfdbinary):
    """An interpretation that refuses is an answer, not an error."""
    document = json.loads(CASE.read_bytes())
    document["results"] = [{"analyte": "pH", "method": "saturated_paste", "value": 78}]
    file = tmp_path / "impossible.json"
    file.write_text(json.dumps(document))
    assert main(["interpret", str(file)]) == 0
    assert json.loads(capfdbinary.readouterr().out)["outcome"] == "refused"


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("{", "line 1"),
        ('{"results": []}', "/results"),
        ('{"results": [{"analyte": "pH", "value": 7}], "target": {"crop": "tomatoe"}}', "tomato"),
    ],
)
def test_submission_at_fault_is_1_with_its_place(tmp_path, capsys, content, told):
    file = tmp_path / "submission.json"
    file.write_text(content)
    assert main(["interpret", str(file)]) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert told in said.err


def test_a_fault_of_ours_is_70_in_one_line(monkeypatch, capsys):
    """70 is EX_SOFTWARE of sysexits.h."""
    import service.desk.drafting as desk

    def broken(*_, **__):
        raise RuntimeError("secret")

    monkeypatch.setattr(desk, "interpret", broken)
    assert main(["interpret", str(CASE)]) == 70
    said = capsys.readouterr()
    assert (said.out, said.err.count("\n")) == ("", 1)
    assert "internal fault" in said.err
    assert "secret" not in said.err


def test_missing_file_is_1(capsys):
    assert main(["interpret", "/nowhere/x.json"]) == 1
    assert "/nowhere/x.json" in capsys.readouterr().err


@pytest.mark.parametrize("arguments", [[], ["interpret"], ["interpret", "x", "--format", "pdf"], ["fly"]])
def test_usage_is_2(arguments):
    with pytest.raises(SystemExit) as caught:
        main(arguments)
    assert caught.value.code == 2


def test_crops_check_passes_on_what_is_shipped(capsys):
    assert main(["crops", "check"]) == 0
    assert "no fault" in capsys.readouterr().out


def test_crops_check_names_file_and_fault(tmp_path, capsys):
    edition = tmp_path / "moon-cactus" / "2025-01-01"
    edition.mkdir(parents=True)
    (edition / "crop.toml").write_text('id = "moon-cactus"\nkind = 3\n')
    assert main(["crops", "check", str(tmp_path)]) == 1
    assert "crop.toml" in capsys.readouterr().err


def test_openapi_writes_the_committed_contract(tmp_path):
    output = tmp_path / "openapi.json"
    assert main(["openapi", "--output", str(output)]) == 0
    assert output.read_bytes() == (ROOT / "openapi" / "openapi.json").read_bytes()
