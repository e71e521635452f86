"""From a received submission to a worded answer: interpret under the circumstances of the day, put into words."""

from dataclasses import dataclass, fields, replace
from datetime import date, datetime
from typing import Any, NamedTuple

import orjson

from service.agronomy.decision import visible_to_submitter
from service.agronomy.findings import Interpretation, Reason
from service.agronomy.interpret import interpret
from service.agronomy.judgement import Edit, Judgement
from service.agronomy.submission import Quantity
from service.blending import solve
from service.contract.answer import Issue, document
from service.desk.intake import Received, sha256
from service.desk.joining import Conflict, told
from service.desk.office import Office
from service.desk.release import RELEASE, standing

HELD = "held"


class Remark(NamedTuple):
    """A sentence that a reviewer adds to a report: of the phrase list, or free."""

    phrase: str | None
    text: str


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What beside submission and tables decides an answer: the mode of its class, or the judgement of a person.

    ``as_on``: the day that a judged report is read for, that of the report before; None for the day of issue.
    ``reader``: the key of the person who judged.
    ``conflicts``: where the form of the counter and the laboratory contradicted each other.
    """

    mode: str = RELEASE
    judgement: Judgement | None = None
    remarks: tuple[Remark, ...] = ()
    as_on: date | None = None
    conflicts: tuple[Conflict, ...] = ()
    reader: str | None = None

    @property
    def told(self) -> tuple[Reason, ...]:
        """What contradicted, as reasons."""
        return tuple(told(conflict) for conflict in self.conflicts)

    @property
    def standing(self) -> Reason | None:
        """What stands against letting the answer out unread."""
        return None if self.judgement is not None else standing(self.mode)

    def encoded(self) -> str | None:
        """As kept with the record, so that the answer can be made again; None for the usual case."""
        if self == RULES:
            return None
        tree = {field.name: getattr(self, field.name) for field in fields(self)}
        return orjson.dumps(tree, default=list).decode()

    @classmethod
    def decoded(cls, kept: str | None) -> "Circumstances":
        """From what was kept."""
        if kept is None:
            return RULES
        said = orjson.loads(kept)
        remarks = tuple(Remark(*remark) for remark in said["remarks"])
        as_on = date.fromisoformat(said["as_on"]) if said["as_on"] else None
        conflicts = tuple(Conflict(*conflict) for conflict in said["conflicts"])
        return cls(said["mode"], _judgement(said["judgement"]), remarks, as_on, conflicts, said["reader"])


def _judgement(kept: list[Any] | None) -> Judgement | None:
    if kept is None:
        return None
    edits, rejected = kept
    return Judgement(
        tuple(Edit(subject, Quantity(*rate) if rate else None, reason) for subject, rate, reason in edits), rejected
    )


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
        beside=circumstances.told,
    )


def draft(received: Received, office: Office, issued: Issue, circumstances: Circumstances = RULES) -> Drafted:
    """Interpret and word a submission, for its submitter and, when it is held, for the reviewer."""
    issued = replace(issued, authorized_by=circumstances.reader)
    found = interpreted(received, circumstances)
    said = {"remarks": [remark._asdict() for remark in circumstances.remarks]}
    shown = worded(visible_to_submitter(found), received, office, issued) | said
    whole = worded(found, received, office, issued) | said if found.outcome == HELD else None
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
