"""``saltbush keys``: the first key, lists, rotation, revoking; and serving beyond this machine."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FIRST = ("create", "--organization", "juniper-county", "--role", "administrator")
NEW = ("--kind", "county_office", "--name", "Juniper County (invented)")


@pytest.fixture
def saltbush(tmp_path):
    """Runs a command in an empty folder: status, standard output, standard error."""

    def run(*words: str, command: str = "keys") -> tuple[int, str, str]:
        environment = {"PYTHONPATH": str(ROOT), "PATH": os.environ["PATH"], "SALTBUSH_DATA": str(tmp_path / "data")}
        done = subprocess.run(
            [sys.executable, "-m", "service.commands", command, *words],
            capture_output=True,
            text=True,
            cwd=tmp_path,
            env=environment,
            timeout=60,
        )
        assert "Traceback" not in done.stderr
        return done.returncode, done.stdout, done.stderr

    return run


def test_the_first_key_is_printed_alone_and_once(saltbush):
    status, shown, said = saltbush(*FIRST, *NEW)
    assert (status, len(shown.split())) == (0, 1)
    assert shown.startswith("sb_")
    assert "cannot be shown again" in said
    secret = shown.strip().rpartition("_")[2]
    assert secret not in said
    for action in ("list", "organizations"):
        status, listed, said = saltbush(action)
        assert status == 0
        assert "juniper-county" in listed
        assert secret not in listed + said


def test_a_new_organization_must_say_what_it_is(saltbush):
    status, shown, said = saltbush(*FIRST)
    assert (status, shown) == (1, "")
    assert "--kind" in said
    assert saltbush("organizations")[1] == ""


def test_a_key_that_makes_no_sense_leaves_nothing_behind(saltbush):
    status, _, said = saltbush("create", "--organization", "juniper-county", *NEW)
    assert status == 1
    assert "/roles" in said
    assert saltbush("organizations")[1] == ""


@pytest.mark.parametrize(
    ("more", "named"),
    [
        (("--kind", "laboratory"), "county_office"),
        (("--name", "Another"), "Juniper County"),
        (("--origin", "https://garden.example"), "/roles"),
        (("--expires", "tomorrow"), "/expires_at"),
        (("--expires", "2020-01-01T00:00:00Z"), "/expires_at"),
    ],
)
def test_what_does_not_fit_is_refused_with_what_would(saltbush, more, named):
    assert saltbush(*FIRST, *NEW)[0] == 0
    status, shown, said = saltbush(*FIRST, *more)
    assert (status, shown) == (1, "")
    assert named in said


def test_rotate_and_revoke_by_prefix_or_id(saltbush):
    shown = saltbush(*FIRST, *NEW)[1].strip()
    prefix = shown.split("_")[1]
    status, second, _ = saltbush("rotate", prefix)
    assert status == 0
    assert second.startswith("sb_key")
    assert saltbush("rotate", prefix)[0] == 1
    assert saltbush("revoke", prefix)[0] == 0
    lines = [line.split("\t") for line in saltbush("list")[1].splitlines()]
    ends = {line[2]: line[4] for line in lines}
    assert ends[prefix].startswith("revoked 2")
    assert ends[second.split("_")[1]] == "until revoked"
    identity = next(line[0] for line in lines if line[2] != prefix)
    assert saltbush("revoke", identity)[0] == 0
    assert saltbush("revoke", "nothing")[0] == 1


def test_usage_errors_are_2(saltbush):
    for words in ((), ("create",), ("create", "--organization", "x-y", "--role", "king"), ("paint",)):
        assert saltbush(*words)[0] == 2


def test_it_listens_beyond_this_machine_only_with_keys(saltbush, serving):
    status, _, said = saltbush("--host", "0.0.0.0", command="serve")
    assert status == 2
    assert "saltbush keys create" in said


def test_a_served_key_is_needed_from_the_next_request_on(serving, saltbush):
    server = serving()
    assert server.get("/v1/interpretations")[0] == 200
    shown = saltbush(*FIRST, *NEW)[1].strip()
    assert server.post({})[0] == 401
    assert server.get("/v1/crops?limit=1")[0] == 200
    assert asked(server, shown) == 200
    assert saltbush("revoke", shown.split("_")[1])[0] == 0
    assert [asked(server, shown) for _ in range(6)] == [401] * 6  # every worker
    assert shown.rpartition("_")[2] not in server.said()
    assert server.stop() == 0


def test_with_a_key_it_listens_on_every_address(saltbush, tmp_path):
    saltbush(*FIRST, *NEW)
    environment = {"PYTHONPATH": str(ROOT), "PATH": os.environ["PATH"], "SALTBUSH_DATA": str(tmp_path / "data")}
    command = [sys.executable, "-m", "service.commands", "serve", "--host", "0.0.0.0", "--port", str(free_port())]
    log = tmp_path / "log"
    with log.open("wb") as file:
        server = subprocess.Popen(command, env=environment, cwd=tmp_path, stdout=file, stderr=file)
        try:
            with pytest.raises(subprocess.TimeoutExpired):
                server.wait(timeout=6)
        finally:
            server.terminate()
            server.wait(timeout=20)
    assert "Authorization: Bearer" in log.read_text()


def free_port() -> int:
    import socket

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def asked(server, shown: str) -> int:
    import urllib.error
    import urllib.request

    request = urllib.request.Request(f"{server.url}/v1/interpretations", headers={"Authorization": f"Bearer {shown}"})
    try:
        with urllib.request.urlopen(request, timeout=20) as answer:
            return answer.status
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code
