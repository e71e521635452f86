"""The desk against a simple model: any order of posting, correcting, reading, deciding, stopping and letting out.

The model knows only the contract (section 6: held, approve, edit, ask, reject, business key, replay) and that two
persons let a class out; it holds no table and no figure. Runs on SQLite and on PostgreSQL;
`SALTBUSH_LONG=1` runs it longer.
"""

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import orjson
import pytest
from desk_cases import LAWN, LEAD, revised, sent
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test

from service.agronomy.judgement import Edit
from service.agronomy.submission import Quantity
from service.contract.problem import ProblemError
from service.desk import records, reviews, switching
from service.desk.callers import Caller
from service.desk.issue import issue
from service.desk.office import Office
from service.desk.reviews import Decision

LONG = "SALTBUSH_LONG" in os.environ
EXAMPLES, STEPS = (40, 50) if LONG else (4, 30)
COUNTY = Caller("juniper-county", "county_office", frozenset(("submitter", "agent")), "key-clerk")
READER = Caller("saltbush-programme", "programme", frozenset(("reviewer", "administrator")), "key-reader")
SECOND = READER._replace(actor="key-second")
READERS = st.sampled_from((READER, SECOND))
CLASSES = {"lawn": "cool_season_turf.juniper-county", "lead": "vegetables.juniper-county"}
DOCUMENTS = {"lawn": LAWN, "lead": LEAD}
WHY = "The lawn is in deep shade."


@dataclass
class Thread:
    """One laboratory number: its report that stands, its revision, and the case about it where one is open."""

    kind: str
    number: str
    reports: list[str]
    outcome: str
    revision: int = 1
    case: str | None = None
    claimed_by: str | None = None


@dataclass
class Switches:
    """The switch of each class, the one for all, and who asked for what."""

    modes: dict[str, str] = field(default_factory=lambda: dict.fromkeys(CLASSES, "shadow"))
    stopped: bool = False
    wishes: dict[str, tuple[str, str]] = field(default_factory=dict)
    gone: list[tuple[str, str]] = field(default_factory=list)

    def lapse(self, kind: str) -> None:
        """A wish for a class that was taken back can never be approved any more."""
        if kind in self.wishes:
            self.gone.append((kind, self.wishes.pop(kind)[0]))


class Desk(RuleBasedStateMachine):
    """Every rule does one thing to the desk and to the model, and compares what both answer."""

    make_office: Callable[[], Office]

    threads = Bundle("threads")

    def __init__(self) -> None:
        super().__init__()
        self.office = self.make_office()
        self.all: list[Thread] = []
        self.switches = Switches()

    def expected(self, kind: str) -> str:
        """Lead is always for a person; a lawn goes out where its class does."""
        out = self.switches.modes[kind] == "release" and not self.switches.stopped
        return "released" if out and kind == "lawn" else "held"

    def document(self, thread: Thread) -> dict[str, Any]:
        base = DOCUMENTS[thread.kind]
        numbered = {**base, "sample": {**LAWN["sample"], "lab_number": thread.number}}
        return revised(numbered, thread.revision)

    def send(self, thread: Thread) -> tuple[int, dict[str, Any]]:
        reply = issue(COUNTY, sent(self.document(thread)), self.office)
        return reply.status, orjson.loads(reply.body)

    def taken(self, thread: Thread, answer: dict[str, Any]) -> None:
        assert answer["outcome"] == self.expected(thread.kind)
        assert answer["replaces"] == (thread.reports[-1] if thread.reports else None)
        thread.reports.append(answer["id"])
        thread.outcome, thread.claimed_by = answer["outcome"], None
        thread.case = self.case_of(answer["id"])
        assert (thread.case is None) == (answer["outcome"] != "held")

    def case_of(self, report: str) -> str | None:
        with self.office.records.reading() as reading:
            found = reading.reviews.of(report)
        return found.id if found and found.kind != "reread" else None

    @rule(target=threads, kind=st.sampled_from(tuple(CLASSES)))
    def post(self, kind: str) -> Thread:
        thread = Thread(kind, f"26-{len(self.all):05d}", [], "")
        status, answer = self.send(thread)
        assert status == 201
        self.taken(thread, answer)
        self.all.append(thread)
        return thread

    @rule(thread=threads)
    def post_again(self, thread: Thread) -> None:
        """The same content is the first answer, whatever became of it."""
        status, answer = self.send(thread)
        assert status == 200
        assert answer["id"] in thread.reports

    @rule(thread=threads)
    def revise(self, thread: Thread) -> None:
        thread.revision += 1
        status, answer = self.send(thread)
        assert status == 201
        self.taken(thread, answer)

    @rule(thread=threads, who=READERS)
    def claim(self, thread: Thread, who: Caller) -> None:
        if thread.case is None:
            return
        if thread.claimed_by not in (None, who.actor):
            assert self.refused(lambda: reviews.claim(who, self.office, thread.case or "")) == "claimed"
            return
        reviews.claim(who, self.office, thread.case)
        thread.claimed_by = who.actor

    @rule(thread=threads, who=READERS)
    def give_back(self, thread: Thread, who: Caller) -> None:
        if thread.case is not None:
            reviews.unclaim(who, self.office, thread.case)
            thread.claimed_by = None if thread.claimed_by == who.actor else thread.claimed_by

    @rule(thread=threads, who=READERS, word=st.sampled_from(("approve", "edit", "ask", "reject")))
    def decide(self, thread: Thread, who: Caller, word: str) -> None:
        if thread.case is None:
            return
        edits = (Edit("Zn", Quantity(5, "lb/acre"), WHY),) if word == "edit" else ()
        decision = Decision(word, WHY, edits)
        if thread.claimed_by not in (None, who.actor):
            assert self.refused(lambda: reviews.decide(who, self.office, thread.case or "", decision)) == "claimed"
            return
        decided = reviews.decide(who, self.office, thread.case, decision)
        thread.claimed_by = None
        if word == "ask":
            assert (decided.review.state, decided.issued) == ("waiting", None)
            return
        assert decided.issued is not None
        self.decided(thread, word, decided.issued.id)

    def decided(self, thread: Thread, word: str, issued: str) -> None:
        kind_of_case = "shadow" if thread.kind == "lawn" else "held"
        thread.reports.append(issued)
        thread.outcome = "refused" if word == "reject" else "given"
        closed, thread.case = thread.case, None
        late = self.refused(lambda: reviews.decide(READER, self.office, closed or "", Decision("approve")))
        assert late == "not-in-this-state"
        if word == "reject" and kind_of_case == "shadow":
            self.switches.lapse(thread.kind)
            if self.switches.modes[thread.kind] == "release":
                self.switches.modes[thread.kind] = "shadow"

    @rule(kind=st.sampled_from(tuple(CLASSES)), who=READERS)
    def pause(self, kind: str, who: Caller) -> None:
        switching.switch(who, self.office, CLASSES[kind], "paused", "drill")
        self.switches.modes[kind] = "paused"
        self.switches.lapse(kind)

    @rule(kind=st.sampled_from(tuple(CLASSES)), who=READERS)
    def resume(self, kind: str, who: Caller) -> None:
        def act() -> object:
            return switching.resume(who, self.office, CLASSES[kind], "over")

        if self.switches.modes[kind] != "paused":
            assert self.refused(act) == "not-in-this-state"
            return
        act()
        self.switches.modes[kind] = "shadow"

    @rule(stop=st.booleans())
    def switch_all(self, stop: bool) -> None:
        if stop:
            switching.switch(READER, self.office, "all", "paused", "drill")
        elif self.switches.stopped:
            switching.resume(READER, self.office, "all", "over")
        self.switches.stopped = stop

    @rule(kind=st.sampled_from(tuple(CLASSES)), who=READERS)
    def wish(self, kind: str, who: Caller) -> None:
        def act() -> Any:
            return switching.wish(who, self.office, CLASSES[kind], "agreed")

        if self.switches.modes[kind] != "shadow" or kind in self.switches.wishes:
            assert self.refused(act) == "not-in-this-state"
            return
        self.switches.wishes[kind] = (act().id, who.actor)

    @rule(kind=st.sampled_from(tuple(CLASSES)), who=READERS)
    def approve_wish(self, kind: str, who: Caller) -> None:
        if kind not in self.switches.wishes:
            return
        id, by = self.switches.wishes[kind]  # noqa: A001
        if by == who.actor:
            assert self.refused(lambda: switching.approve(who, self.office, CLASSES[kind], id)) == "second-person"
            return
        assert switching.approve(who, self.office, CLASSES[kind], id).mode == "release"
        self.switches.modes[kind] = "release"
        self.switches.gone.append((kind, self.switches.wishes.pop(kind)[0]))

    @precondition(lambda self: self.switches.gone)
    @rule(which=st.integers(0, 20), who=READERS)
    def approve_what_is_gone(self, which: int, who: Caller) -> None:
        kind, id = self.switches.gone[which % len(self.switches.gone)]  # noqa: A001
        assert self.refused(lambda: switching.approve(who, self.office, CLASSES[kind], id)) == "not-in-this-state"

    @rule(kind=st.sampled_from(tuple(CLASSES)))
    def ask_and_stop(self, kind: str) -> None:
        """What chance seldom brings together: a wish, and a stop right after it."""
        self.wish(kind, READER)
        self.pause(kind, SECOND)

    @rule(thread=threads, which=st.integers(0, 20))
    def replay(self, thread: Thread, which: int) -> None:
        """Every report, of rules or of a person, comes out again byte for byte."""
        record = records.find(COUNTY, self.office, thread.reports[which % len(thread.reports)])
        again = records.replay(record, self.office)
        assert (again.how, again.body) == ("recomputed", record.answer)

    def refused(self, act: Callable[[], object]) -> str:
        with pytest.raises(ProblemError) as problem:
            act()
        return problem.value.problem.kind

    @invariant()
    def each_thread_is_one_chain_of_reports(self) -> None:
        for thread in self.all[-3:]:
            found = [records.find(COUNTY, self.office, id) for id in thread.reports]  # noqa: A001
            assert [record.replaced_by for record in found] == [*thread.reports[1:], None]
            outcome = found[-1].outcome
            assert ("given" if thread.outcome == "given" and outcome in ("released", "partial") else outcome) == (
                thread.outcome
            )

    @invariant()
    def the_queue_holds_what_waits_and_nothing_else(self) -> None:
        listed = {
            review.id
            for state in ("open", "waiting")
            for review, _ in reviews.queue(READER, self.office, None, 500, state, None)
            if review.kind != "reread"
        }
        assert listed == {thread.case for thread in self.all if thread.case}


def test_the_desk_does_what_the_model_says(make_office: Callable[[], Office]) -> None:
    machine = type("Machine", (Desk,), {"make_office": staticmethod(make_office)})
    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=EXAMPLES,
            stateful_step_count=STEPS,
            deadline=None,
            suppress_health_check=list(HealthCheck),
            derandomize=not LONG,
        ),
    )
