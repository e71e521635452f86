"""A third party's package, built as a wheel and installed beside the service's own wheel in a fresh environment.

It brings one crop and one regional calibration and no code. Nothing is fetched: the packages that the service needs
are those of the environment that runs the tests.
"""

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import sysconfig
import time
import urllib.request
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PLUGIN = ROOT / "tests" / "plugin"
HOPS = {
    "sample": {"depth": {"top": 0, "bottom": 12, "unit": "in"}},
    "results": [{"analyte": "P", "method": "olsen", "value": 8, "unit": "mg/kg"}],
    "target": {"crop": "hop"},
    "site": {"region": "US-XX"},
    "options": {"as_of": "2026-04-20", "units": "us_field"},
}


class Installed:
    """A fresh environment with the service and, at first, the plug-in."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.bin = folder / "venv" / ("Scripts" if os.name == "nt" else "bin")
        run(sys.executable, "-m", "venv", "--without-pip", folder / "venv")
        (self.site / "dependencies.pth").write_text(sysconfig.get_paths()["purelib"] + "\n", "utf-8")
        wheels = folder / "wheels"
        for project in (ROOT, shutil.copytree(PLUGIN, folder / "plugin")):
            run(sys.executable, "-m", "pip", "wheel", "-q", *OFFLINE, "--no-build-isolation", "-w", wheels, project)
        run(sys.executable, "-m", "pip", "--python", self.bin / "python", "install", "-q", *OFFLINE, *wheels.iterdir())

    @property
    def site(self) -> Path:
        """Where its packages lie."""
        return next((self.folder / "venv").glob("**/site-packages"))

    def saltbush(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run the installed command away from the checkout."""
        command = [str(self.bin / "saltbush"), *arguments]
        return subprocess.run(
            command, cwd=self.folder, env=self.environment, capture_output=True, text=True, timeout=60
        )

    @property
    def environment(self) -> dict[str, str]:
        """Nothing of the checkout."""
        kept = {name: value for name, value in os.environ.items() if not name.startswith(("SALTBUSH_", "PYTHON"))}
        return {**kept, "SALTBUSH_DATA": str(self.folder / "data")}


OFFLINE = ("--no-index", "--no-deps", "--disable-pip-version-check", "--no-cache-dir")


def run(*command: object) -> None:
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Installed:
    return Installed(tmp_path_factory.mktemp("fresh"))


def answered(installed: Installed, document: dict, query: str) -> tuple[dict, list]:
    """Start the service, post, search the crop, stop."""
    port = free_port()
    command = [str(installed.bin / "saltbush"), "serve", "--workers", "1", "--port", str(port)]
    log = installed.folder / "serve.log"
    with log.open("wb") as output:
        process = subprocess.Popen(
            command, cwd=installed.folder, env=installed.environment, stdout=output, stderr=subprocess.STDOUT
        )
        try:
            url = f"http://127.0.0.1:{port}"
            wait_for(f"{url}/readyz", process, log)
            found = json.load(urllib.request.urlopen(f"{url}/v1/crops?q=lupulo", timeout=20))["items"]
            headers = {"Content-Type": "application/json"}
            request = urllib.request.Request(f"{url}/v1/interpretations{query}", json.dumps(document).encode(), headers)
            return json.load(urllib.request.urlopen(request, timeout=20)), found
        finally:
            process.terminate()
            process.wait(20)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def wait_for(address: str, process: subprocess.Popen[bytes], log: Path) -> None:
    for _ in range(300):
        try:
            with urllib.request.urlopen(address, timeout=5):
                return
        except OSError:
            assert process.poll() is None, log.read_text("utf-8")
            time.sleep(0.1)
    raise AssertionError(log.read_text("utf-8"))


def test_installed_tables_answer_and_a_broken_or_missing_package_stops_the_start(installed: Installed) -> None:
    """The service of the fresh environment knows the crop and rates it by the regional calibration of the package.

    A figure that cannot be read, a released edition that changed and a package that kept interpretations rest on but
    that is gone each stop the start, which says why.
    """
    checked = installed.saltbush("crops", "check")
    assert "128 crops" in checked.stdout
    assert "hop" not in checked.stderr

    answer, found = answered(installed, HOPS, "")
    assert [crop["id"] for crop in found] == ["hop"]
    (finding,) = answer["findings"]
    assert (finding["rating"], finding["table"]["id"]) == ("low", "ratings-hardpan")
    rates = {item["subject"]: item["rate"] for item in answer["recommendations"] if item["rate"]}
    assert rates["P2O5"] == {"value": 40, "unit": "lb/acre"}
    assert rates["N"]["value"] == pytest.approx(100, rel=0.05)
    assert "Lush hop shoots take downy mildew." in [caution["text"] for caution in answer["cautions"]]

    table = installed.site / "hardpan_tables" / "crops" / "_shared" / "ratings-hardpan" / "2026-01-01.csv"
    sound = table.read_text("utf-8")
    table.write_text(sound.replace("low,,12", "low,,twelve"), "utf-8")
    refuses_to_start(installed, f"{table}, line 2, column upper: 'twelve' cannot be read; expected a number")
    table.write_text(sound, "utf-8")

    released = installed.saltbush("crops", "freeze", str(table.parents[2]))
    assert released.returncode == 0, released.stderr
    table.write_text(sound.replace("low,,12", "low,,14"), "utf-8")
    refuses_to_start(installed, f"{table}: this edition was released on")

    run(sys.executable, "-m", "pip", "--python", installed.bin / "python", "uninstall", "-q", "-y", "hardpan-tables")
    shutil.rmtree(installed.site / "hardpan_tables", ignore_errors=True)
    refuses_to_start(installed, "hop: edition 2026-01-01 is gone, but kept interpretations rest on it")


def refuses_to_start(installed: Installed, why: str) -> None:
    """The service is told to start and ends by itself with the reason."""
    log = installed.folder / "refused.log"
    with log.open("wb") as output:
        command = [str(installed.bin / "saltbush"), "serve", "--port", str(free_port())]
        process = subprocess.Popen(
            command,
            cwd=installed.folder,
            env=installed.environment,
            stdout=output,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
        try:
            assert process.wait(30) == 1
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            raise
    assert why in log.read_text("utf-8")
