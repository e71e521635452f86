"""A real server in processes of its own."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest


class Server:
    """``saltbush serve`` on a free port."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        self.start()

    def start(self) -> None:
        """Start and wait until it is ready."""
        command = [sys.executable, "-m", "service.commands", "serve", "--port", str(self.port)]
        environment = {**os.environ, "SALTBUSH_DATA": str(self.folder / "data")}
        self.log = (self.folder / "serve.log").open("wb")
        self.process = subprocess.Popen(
            command, env=environment, stdout=self.log, stderr=subprocess.STDOUT, start_new_session=True
        )
        for _ in range(300):
            try:
                if self.get("/readyz")[0] == 200:
                    return
            except OSError:
                assert self.process.poll() is None, self.said()
                time.sleep(0.1)
        raise AssertionError(self.said())

    def said(self) -> str:
        """What it printed."""
        return (self.folder / "serve.log").read_text("utf-8")

    def get(self, path: str) -> tuple[int, bytes]:
        """Status and body."""
        with urllib.request.urlopen(self.url + path, timeout=20) as answer:
            return answer.status, answer.read()

    def post(self, document: object, query: str = "") -> tuple[int, dict]:
        """Status and JSON of a submission."""
        body = json.dumps(document).encode()
        request = urllib.request.Request(
            f"{self.url}/v1/interpretations{query}", data=body, headers={"Content-Type": "application/json"}
        )
        try:
            with urllib.request.urlopen(request, timeout=20) as answer:
                return answer.status, json.loads(answer.read())
        except urllib.error.HTTPError as problem:
            with problem:
                return problem.code, json.loads(problem.read())

    def kill(self) -> None:
        """SIGKILL to all its processes."""
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        self.log.close()

    def stop(self) -> int:
        """As Ctrl-C does."""
        self.process.send_signal(signal.SIGINT)
        status = self.process.wait(timeout=20)
        self.log.close()
        return status


@pytest.fixture
def serving(tmp_path: Path) -> Iterator[Callable[[], Server]]:
    """Starts servers and sees to it that none is left."""
    started: list[Server] = []

    def start() -> Server:
        started.append(Server(tmp_path))
        return started[-1]

    yield start
    for server in started:
        if server.process.poll() is None:
            server.kill()
