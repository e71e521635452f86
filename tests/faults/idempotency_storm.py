"""Fifty posts at once with one Idempotency-Key, a kill in the middle, fifty more: one effect, round by round.

.venv/bin/python tests/faults/idempotency_storm.py [--postgresql] [--rounds N]; 1,000 rounds are the proof, the last
figure stands in DEVELOPERS.md, "The store"; ten rounds are part of the tests. What is promised follows
draft-ietf-httpapi-idempotency-key-header-07: a repeated request gets the first answer or, while it runs, a conflict.
"""

import argparse
import os
import random
import shutil
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path

import orjson
import sqlalchemy as sa

ROOT = Path(__file__).resolve().parents[2]
sys.path.append(str(ROOT / "tests"))

from databases import Server, stop, url_of  # noqa: E402
from desk_cases import LAWN, sent  # noqa: E402

from service.catalog.catalog import Catalog, load_catalog  # noqa: E402
from service.contract.problem import ProblemError  # noqa: E402
from service.desk.callers import OPEN_CALLER  # noqa: E402
from service.desk.issue import issue  # noqa: E402
from service.desk.office import Office  # noqa: E402
from service.desk.retries import STALE_AFTER, once  # noqa: E402
from service.desk.trail_check import prove_database  # noqa: E402
from service.render.catalogue import Catalogue  # noqa: E402
from service.settings import shipped  # noqa: E402
from service.store.migrate import migrate  # noqa: E402
from service.store.store import Store  # noqa: E402
from service.store.tables import interpretation, request_key  # noqa: E402

POSTS = 50
ROUTE = "POST /v1/interpretations"
BODY = sent({**LAWN, "sample": {}})
"""Without a laboratory number: only the key keeps it from being issued twice."""


class Storm:
    """One database, its tables read once, and what was seen so far."""

    def __init__(self, url: str, catalog: Catalog, texts: Catalogue, dice: random.Random) -> None:
        self.url, self.catalog, self.texts, self.dice = url, catalog, texts, dice
        self.span = 0.0
        self.seen: Counter[str] = Counter()

    def office(self) -> Office:
        """Of this process: connections do not pass through a fork."""
        return Office(self.catalog, "engine", Store(self.url), self.texts)

    def round(self, number: int) -> None:
        """Posts, a kill, posts at once, posts a minute later: one effect. Raises AssertionError."""
        key = f"key-{number}"
        before = self.kept()
        acknowledged = self.killed(key)
        self.seen[self.state(key)] += 1
        replies, conflicts = self.posted(key)
        assert len(replies) + conflicts == POSTS
        self.a_minute_passes()
        later, conflicts = self.posted(key)
        assert later
        assert len(later) + conflicts == POSTS
        assert self.kept() - before == 1, f"round {number}: {self.kept() - before} effects"
        assert len({*acknowledged, *replies, *later}) == 1, f"round {number}: answers differ"

    def killed(self, key: str) -> set[str]:
        """A process of its own posts and is killed at a random moment; the ids it acknowledged until then."""
        read, write = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(read)
            self.in_the_child(key, write)
        os.close(write)
        with os.fdopen(read, "rb") as told:
            assert told.read(1) == b"."
            time.sleep(self.span * self.dice.random() ** 4)  # the effect comes early, the conflicts last
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return {line.decode() for line in told.read().split(b"\n") if len(line) == 36}

    def in_the_child(self, key: str, write: int) -> None:
        """Never returns."""
        try:
            office = self.office()
            os.write(write, b".\n")
            posts(office, key, lambda name: os.write(write, f"{name}\n".encode()))
            time.sleep(60)
        finally:
            os._exit(1)

    def posted(self, key: str) -> tuple[list[str], int]:
        """Fifty posts that live: the ids answered, and how many conflicts."""
        office, began, replies = self.office(), time.perf_counter(), list[str]()
        conflicts = posts(office, key, replies.append)
        office.records.close()
        self.span = max(self.span, (time.perf_counter() - began) * 1.2)
        return replies, conflicts

    def kept(self) -> int:
        """How many reports there are."""
        return int(self.asked(sa.select(sa.func.count()).select_from(interpretation)))

    def state(self, key: str) -> str:
        """How far the killed process came."""
        query = sa.select(request_key.c.status).where(request_key.c.key == key)
        found = self.asked(sa.select(sa.func.count()).select_from(query.subquery()))
        return "before the key was taken" if not found else "after the answer" if self.asked(query) else "between"

    def asked(self, query: sa.Select) -> object:
        """One value."""
        store = Store(self.url)
        with store.reading() as reading:
            value = reading.connection.execute(query).scalar()
        store.close()
        return value

    def a_minute_passes(self) -> None:
        """What a dead process has taken becomes free after a minute; here its clock is set back instead."""
        store = Store(self.url)
        with store.writing() as book:
            earlier = request_key.c.claimed_at - STALE_AFTER - 1
            held = sa.update(request_key).where(request_key.c.status.is_(None)).values(claimed_at=earlier)
            book.connection.execute(held)
        store.close()


def posts(office: Office, key: str, answered) -> int:
    """Fifty threads post at once. Returns how many were told that the first one still runs."""
    conflicts, together = [], threading.Barrier(POSTS)

    def post() -> None:
        together.wait()
        try:
            act = lambda claim: issue(OPEN_CALLER, BODY, office, claim)  # noqa: E731
            reply = once(OPEN_CALLER, office, ROUTE, key, BODY, act)
            assert orjson.loads(reply.body)["id"] == reply.id
            answered(reply.id)
        except ProblemError as problem:
            conflicts.append(problem.problem.kind)

    threads = [threading.Thread(target=post) for _ in range(POSTS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(conflicts) <= {"still-running"}
    return len(conflicts)


def storm(url: str, catalog: Catalog, texts: Catalogue, rounds: int, dice: random.Random) -> Counter[str]:
    """All rounds; the trail is whole afterwards. Returns how far the killed processes came. Raises AssertionError."""
    made = Storm(url, catalog, texts, dice)
    made.posted("the first, which nobody disturbs")
    for number in range(rounds):
        made.round(number)
    store = Store(url)
    with store.reading() as reading:
        proof = prove_database(reading)
    store.close()
    assert (proof.records, proof.broken) == (rounds + 1, ())
    return made.seen


def main() -> int:
    """The long run."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--postgresql", action="store_true")
    parser.add_argument("--rounds", type=int, default=1000)
    given = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="saltbush-"))
    try:
        url = f"sqlite:///{folder}/saltbush.db"
        if given.postgresql:
            server = Server(folder, fsync="on")
            server.start()
            url = url_of(server.address, "postgres")
        migrate(url, shipped("migrations"))
        seen = storm(url, load_catalog([ROOT / "crops"]), Catalogue(), given.rounds, random.Random())
    finally:
        stop(folder)
        shutil.rmtree(folder)
    print(f"{given.rounds} rounds of {POSTS} posts: one effect each; killed {dict(seen)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
