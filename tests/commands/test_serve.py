"""``saltbush serve``: from nothing to a first answer, stopping, being killed."""

import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest

LAWN = {
    "sample": {"depth": {"top": 0, "bottom": 4, "unit": "in"}},
    "results": [
        {"analyte": "pH", "method": "saturated_paste", "value": 7.8},
        {"analyte": "P", "method": "olsen", "value": 31, "unit": "mg/kg"},
    ],
    "target": {"crop": "tall-fescue-lawn", "area": {"value": 3200, "unit": "ft2"}},
}


def test_from_nothing_to_an_answer_and_back(serving):
    server = serving()
    status, answer = server.post(LAWN)
    assert (status, answer["number"][-7:]) == (201, "-000001")
    assert server.get(f"/v1/interpretations/{answer['id']}")[0] == 200
    assert server.get("/")[0] == 200
    said = server.said()
    assert server.url in said
    assert "curl" in said
    assert server.stop() == 0


def test_the_printed_request_works(serving):
    """Word for word, in a shell."""
    server = serving()
    said = server.said()
    command = said[said.index("curl") : said.index("Records are kept")]
    done = subprocess.run(["sh", "-c", command], capture_output=True, text=True, timeout=30)
    assert '"outcome"' in done.stdout, done


def test_what_was_acknowledged_survives_sigkill(serving, tmp_path):
    """Killed under load: every 201 is in the database, whole; the numbers have no gap; the next start goes on."""
    server = serving()
    acknowledged: list[tuple[str, str]] = []
    enough = threading.Event()

    def post() -> None:
        while True:
            try:
                status, answer = server.post(LAWN)
            except (OSError, ValueError):
                return
            assert status == 201
            acknowledged.append((answer["id"], answer["number"]))
            if len(acknowledged) > 60:
                enough.set()

    threads = [threading.Thread(target=post) for _ in range(4)]
    for thread in threads:
        thread.start()
    assert enough.wait(60)
    server.kill()
    for thread in threads:
        thread.join()
    connection = sqlite3.connect(tmp_path / "data" / "saltbush.db")
    rows = connection.execute("SELECT id, number, sequence, answer FROM interpretation ORDER BY sequence").fetchall()
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()
    assert set(acknowledged) <= {(row[0], row[1]) for row in rows}
    assert [row[2] for row in rows] == list(range(1, len(rows) + 1))
    assert all(row[3].endswith(b"}") and row[0].encode() in row[3] for row in rows)
    server.start()
    status, answer = server.post(LAWN)
    assert (status, int(answer["number"].split("-")[1])) == (201, len(rows) + 1)


def test_a_port_in_use_is_told(serving, tmp_path):
    server = serving()
    command = [sys.executable, "-m", "service.commands", "serve", "--port", str(server.port)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, env=_path(), timeout=60)
    assert (done.returncode, done.stdout) == (1, "")
    assert str(server.port) in done.stderr
    assert server.get("/readyz")[0] == 200


@pytest.mark.parametrize(
    "arguments",
    [["--host", "0.0.0.0"], ["--port", "zero"], ["--port", "70000"], ["--workers", "0"], ["--colour", "red"], []],
)
def test_usage_errors_are_2_with_a_word_on_stderr(arguments, tmp_path):
    command = [sys.executable, "-m", "service.commands", *(["serve", *arguments] if arguments else [])]
    done = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, env=_path(), timeout=60)
    assert (done.returncode, done.stdout) == (2, "")
    assert "saltbush" in done.stderr
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


def _path() -> dict[str, str]:
    return {"PYTHONPATH": str(Path(__file__).resolve().parents[2]), "PATH": "/usr/bin:/bin"}
