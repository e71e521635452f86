"""From a received submission to a worded answer: interpret under the circumstances of the day, put into words."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import orjson

from service.agronomy.decision import visible_to_submitter
from service.agronomy.findings import Interpretation, Reason
from service.agronomy.interpret import interpret
from service.agronomy.judgement import Edit, Judgement
from service.agronomy.submission import Quantity
from service.blending import solve
from service.contract.answer import Issue, document
from service.desk.intake import Received, sha256
from service.desk.office import Office
from service.desk.release import Gate, standing

HELD = "held"


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What beside submission and tables decides an answer: the mode of its class, or the judgement of a person."""

    mode: str = "release"
    judgement: Judgement | None = None

    @classmethod
    def behind(cls, gate: Gate) -> "Circumstances":
        """Those of a report that nobody has read."""
        return cls(gate.mode)

    @property
    def standing(self) -> Reason | None:
        """What stands against letting the answer out unread."""
        return None if self.judgement is not None else standing(self.mode)

    def encoded(self) -> str | None:
        """As kept with the record, so that the answer can be made again; None for the usual case."""
        if self.judgement is not None:
            return orjson.dumps({"edits": self.judgement.edits}).decode()
        return None if self.standing is None else orjson.dumps({"mode": self.mode}).decode()

    @classmethod
    def decoded(cls, kept: str | None) -> "Circumstances":
        """From what was kept."""
        if kept is None:
            return cls()
        said = orjson.loads(kept)
        if "mode" in said:
            return cls(said["mode"])
        edits = tuple(Edit(subject, rate and Quantity(*rate), reason) for subject, rate, reason in said["edits"])
        return cls(judgement=Judgement(edits))


RULES = Circumstances()
"""Nobody has read it and nothing stands against it."""


@dataclass(frozen=True, slots=True)
class Drafted:
    """A finished answer that only lacks its number: the submitter's view, and the whole where that is more."""

    received: Received
    found: Interpretation
    issue: Issue
    shown: dict[str, Any]
    whole: dict[str, Any] | None
    circumstances: Circumstances


def interpreted(received: Received, circumstances: Circumstances = RULES) -> Interpretation:
    """The answer in codes: the one way from a submission into the core."""
    return interpret(
        received.submission,
        received.library,
        received.today,
        solver=solve,
        judged_by=circumstances.judgement,
        standing=circumstances.standing,
    )


def draft(received: Received, office: Office, issued: Issue, circumstances: Circumstances = RULES) -> Drafted:
    """Interpret and word a submission, for its submitter and, when it is held, for the reviewer."""
    found = interpreted(received, circumstances)
    shown = worded(visible_to_submitter(found), received, office, issued)
    whole = worded(found, received, office, issued) if found.outcome == HELD else None
    return Drafted(received, found, issued, shown, whole, circumstances)


def worded(found: Interpretation, received: Received, office: Office, issued: Issue) -> dict[str, Any]:
    """An answer in the language and units that were asked for."""
    options, library = received.submission.options, received.library
    return document(found, options, issued, library.sources, office.words(library, options.language).say)


def issue_of(received: Received, office: Office, now: datetime, released_by: str = "rules") -> Issue:
    """What issuing adds, before the answer has its number."""
    return Issue(
        id=None,
        issued_at=now.isoformat(timespec="seconds"),
        engine=office.engine,
        submission_sha256=sha256(received.body),
        released_by=released_by,
    )
