"""Prints, in one run on one machine, where the time of an interpretation goes: ``python tests/bench/speed.py``.

The core alone (with and without explanations), the way in, the way out, start-up, memory, a library of 1,000 synthetic
crops, and whole requests over loopback beside a null Flask route with the same request and answer sizes.
Machines are shared and noisy: trust the ratios of one run.
"""

import gc
import http.client
import json
import os
import resource
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
CASE = Path(__file__).with_name("thirty_results.json")
DAY = date(2026, 4, 20)
ROUNDS = 2000
REQUESTS = 3000
CLIENTS = 8


def quantiles(work: Callable[[], object], rounds: int = ROUNDS) -> tuple[float, float]:
    """Median and 99th percentile of one call, microseconds."""
    for _ in range(50):
        work()
    gc.collect()
    times = []
    for _ in range(rounds):
        start = time.perf_counter_ns()
        work()
        times.append((time.perf_counter_ns() - start) / 1000)
    times.sort()
    return statistics.median(times), times[int(len(times) * 0.99)]


def show(name: str, work: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Prints one line and returns the median in microseconds."""
    median, tail = quantiles(work, rounds)
    print(f"{name:<58}{median:>10.1f}{tail:>10.1f}")
    return median


def core(folders: list[Path]) -> None:
    """The pure core, the way in and the way out, without HTTP."""
    from service.agronomy.interpret import interpret
    from service.contract.submission import load_submission

    started = time.perf_counter()
    from service.catalog.catalog import load_catalog

    catalog = load_catalog(folders)
    library = catalog.library(DAY)
    print(f"catalogue of {len(catalog.crops)} crops read in {time.perf_counter() - started:.2f} s")
    document = json.loads(CASE.read_bytes())
    submission = load_submission(document, library, DAY)
    answer = interpret(submission, library, DAY)
    print(
        f"{len(document['results'])} results; outcome {answer.outcome}\n{'microseconds':<58}{'median':>10}{'p99':>10}"
    )
    show("core, every step and citation", lambda: interpret(submission, library, DAY))
    show("core, ratings, amounts, outcome", lambda: interpret(submission, library, DAY, explain=False))
    show("way in: marshmallow to submission", lambda: load_submission(document, library, DAY), 500)


def synthetic(count: int, folder: Path) -> None:
    """Copies of the tomato under other names."""
    shutil.copytree(ROOT / "crops", folder)
    model = folder / "tomato" / "2025-01-01"
    for number in range(count):
        place = folder / f"synthetic-{number:04}" / "2025-01-01"
        shutil.copytree(model, place)
        about = (place / "crop.toml").read_text().replace('id = "tomato"', f'id = "synthetic-{number:04}"')
        (place / "crop.toml").write_text(about)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def serve(target: str, data: str, **more: str) -> tuple[subprocess.Popen[bytes], int, float]:
    """One granian worker, its port and how long it took to answer."""
    port = free_port()
    command = [sys.executable, "-m", "granian", "--interface", "wsgi", "--factory", "--workers", "1"]
    command += ["--blocking-threads", "1", "--port", str(port), "--no-ws", target]
    env = {**os.environ, "SALTBUSH_DATA": data, "PYTHONPATH": f"{ROOT}:{Path(__file__).parent}", **more}
    started = time.perf_counter()
    process = subprocess.Popen(command, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    while time.perf_counter() - started < 30:
        try:
            connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
            connection.request("GET", "/healthz")
            connection.getresponse().read()
            return process, port, time.perf_counter() - started
        except OSError:
            time.sleep(0.02)
    process.kill()
    raise SystemExit(f"{target} did not start")


def load(port: int, path: str, body: bytes, count: int = REQUESTS) -> tuple[float, float, int]:
    """Requests per second, 99th percentile in ms, and answer size, over keep-alive connections.

    Raises:
        SystemExit: any request was not answered with 200 or 201.
    """
    times: list[float] = []
    failed: list[int] = []
    size = 0

    def client(share: int) -> None:
        nonlocal size
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        for _ in range(share):
            start = time.perf_counter()
            connection.request("POST", path, body, {"Content-Type": "application/json"})
            reply = connection.getresponse()
            size = len(reply.read())
            times.append((time.perf_counter() - start) * 1000)
            if reply.status not in (200, 201):
                failed.append(reply.status)
                break
        connection.close()

    threads = [threading.Thread(target=client, args=(count // CLIENTS,)) for _ in range(CLIENTS)]
    started = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    total = time.perf_counter() - started
    if failed:
        raise SystemExit(f"{path} answered {failed}")
    times.sort()
    return len(times) / total, times[int(len(times) * 0.99)], size


def resident_mb(pid: int) -> float:
    """Resident memory of a process and its children, MB, memory that several share counted once (PSS)."""
    total = 0
    for child in [pid, *_children(pid)]:
        rollup = Path(f"/proc/{child}/smaps_rollup").read_text()
        total += int(rollup.split("Pss:")[1].split()[0])
    return total / 1024


def _children(pid: int) -> list[int]:
    text = Path(f"/proc/{pid}/task/{pid}/children").read_text()
    return [int(child) for child in text.split()]


def over_http() -> None:
    """Whole requests beside the null route of the same sizes."""
    from service.settings import Settings, shipped
    from service.store.migrate import migrate

    body = CASE.read_bytes()
    document = json.loads(body)
    unstored = "/v1/interpretations?store=false"
    with tempfile.TemporaryDirectory() as data:
        settings = Settings(data=Path(data))
        migrate(settings.database_url, shipped("migrations"))
        process, port, start_up = serve("service.app:create_app", data)
        try:
            print(f"\nstart-up to first answer {start_up:.2f} s")
            load(port, unstored, body, 200)
            plain, plain_tail, size = load(port, unstored, body)
            document["sample"].pop("laboratory", None)
            stored, stored_tail, _ = load(port, "/v1/interpretations", json.dumps(document).encode(), 800)
            print(f"resident memory of server and worker {resident_mb(process.pid):.0f} MB")
        finally:
            process.terminate()
            process.wait(10)
    process, port, _ = serve("null_app:create_app", data, NULL_ANSWER_BYTES=str(size))
    try:
        load(port, "/null", body, 200)
        null, null_tail, _ = load(port, "/null", body)
    finally:
        process.terminate()
        process.wait(10)
    print(f"request {len(body)} bytes, answer {size} bytes, {CLIENTS} connections, one worker")
    print(f"{'route':<40}{'req/s':>10}{'p99 ms':>10}{'x null':>10}")
    for name, rate, tail in (
        ("null Flask route, orjson in and out", null, null_tail),
        ("POST, store=false", plain, plain_tail),
        ("POST, stored (SQLite, FULL)", stored, stored_tail),
    ):
        print(f"{name:<40}{rate:>10.0f}{tail:>10.1f}{null / rate:>10.1f}")


def main() -> None:
    """Everything, in one run."""
    core([ROOT / "crops"])
    with tempfile.TemporaryDirectory() as folder:
        print("\nwith 1,000 synthetic crops more:")
        synthetic(1000, Path(folder) / "crops")
        core([Path(folder) / "crops"])
    over_http()
    print(f"\nmemory of this script {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
