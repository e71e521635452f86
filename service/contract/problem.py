"""Problem documents (RFC 9457): what was wrong with a request, where, and what would be right."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import orjson

MEDIA_TYPE = "application/problem+json"
SHOWN_ERRORS = 100


class Kind(NamedTuple):
    """One kind of problem: its status, its title, and what a caller does about it."""

    status: int
    title: str
    remedy: str


KINDS: Mapping[str, Kind] = {
    "malformed-json": Kind(400, "Malformed JSON", "Send one JSON document in UTF-8 that follows RFC 8259."),
    "bad-request": Kind(400, "Bad request", "Correct the request line or the headers."),
    "unauthorized": Kind(401, "Key needed", "Send Authorization: Bearer with a key that is live."),
    "insufficient-scope": Kind(403, "Not this key's to do", "Use a key whose role holds the scope that is named."),
    "host-not-allowed": Kind(403, "Host or origin not allowed", "Talk to this service directly on this machine."),
    "read-only": Kind(403, "Tables cannot be written here", "Record it where they can: saltbush crops verify record."),
    "not-found": Kind(404, "Not found", "Check the address; lists say which ids exist."),
    "method-not-allowed": Kind(405, "Method not allowed", "Use one of the methods in the Allow header."),
    "conflict": Kind(
        409, "Interpreted before with other content", "Raise sample.revision; the new one replaces the former."
    ),
    "exists": Kind(409, "Already there", "Choose another id, or use what is there."),
    "claimed": Kind(409, "Somebody else has it", "Take another case, or wait until the claim ends."),
    "second-person": Kind(409, "Needs a second person", "Have somebody else approve it, or wait until its day."),
    "not-in-this-state": Kind(409, "Not in this state", "Read what it is now; the detail says what can be done."),
    "unpaid": Kind(409, "Not paid yet", "Note the payment first, or change the office's settings."),
    "still-running": Kind(409, "Request still running", "Wait for the first request, then repeat this one."),
    "not-newest": Kind(409, "Not the newest edition", "Check the row in the newest edition of the table."),
    "changed-meanwhile": Kind(412, "Changed in the meantime", "Read it again and repeat the change on what it is now."),
    "too-large": Kind(413, "Content too large", "Send one sample per request, at most 2 MB."),
    "unsupported-media-type": Kind(415, "Unsupported media type", "Send Content-Type: application/json, uncompressed."),
    "invalid-request": Kind(422, "Invalid request", "Correct each field that the errors point to."),
    "key-reused": Kind(422, "Idempotency key used for another request", "Use a new key for a new request."),
    "if-match-needed": Kind(428, "If-Match needed", "Send If-Match with the ETag of what you have read."),
    "too-many-requests": Kind(429, "Too many requests", "Wait as long as Retry-After says."),
    "internal": Kind(500, "Internal error", "The fault is ours and has been logged; try again."),
    "busy": Kind(503, "Busy", "Send the same request again after Retry-After."),
    "not-ready": Kind(503, "Not ready", "Wait until /readyz answers 200."),
}


class FieldError(NamedTuple):
    """One fault of one field.

    Attributes:
        pointer: JSON pointer (RFC 6901) into the request body, or ``?name`` for a query parameter.
        code: stable word for programs.
        message: what was wrong.
        expected: what would be right.
        allowed: the closed list that the value must come from, where there is one.
        suggestions: members of that list that look like what was sent.
    """

    pointer: str
    code: str
    message: str
    expected: str
    allowed: tuple[str, ...] = ()
    suggestions: tuple[str, ...] = ()

    def document(self) -> dict[str, Any]:
        """The fault as JSON; empty lists are left out."""
        return {name: value for name, value in zip(self._fields, self, strict=True) if value != ()}


@dataclass(frozen=True, slots=True)
class Problem:
    """One problem document. ``extra`` holds further members, ``headers`` goes with the answer."""

    kind: str
    detail: str
    errors: tuple[FieldError, ...] = ()
    extra: Mapping[str, Any] = field(default_factory=dict)
    headers: Mapping[str, str] = field(default_factory=dict)

    @property
    def status(self) -> int:
        """The HTTP status."""
        return KINDS[self.kind].status

    def document(self) -> dict[str, Any]:
        """The members of the problem document, at most a hundred errors."""
        kind = KINDS[self.kind]
        members = {"type": f"/problems/{self.kind}", "title": kind.title, "status": kind.status, "detail": self.detail}
        if self.errors:
            members["errors"] = [error.document() for error in self.errors[:SHOWN_ERRORS]]
        return {**members, **self.extra}

    def encoded(self) -> bytes:
        """The document as it is sent."""
        return orjson.dumps(self.document())


class ProblemError(Exception):
    """A request that cannot be served as it stands; carries the document that says why."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.kind)
        self.problem = problem


def invalid(errors: Iterable[FieldError]) -> ProblemError:
    """Fields at fault: 422, naming each."""
    found = tuple(errors)
    first = found[0]
    more = f" and {len(found) - 1} more" if len(found) > 1 else ""
    return ProblemError(Problem("invalid-request", f"{first.pointer or 'The body'}: {first.message}{more}", found))


def escaped(key: object) -> str:
    """One segment of a JSON pointer; an invented key is cut short and cannot break the document."""
    text = str(key)[:100].encode("utf-8", "replace").decode("utf-8")
    return text.replace("~", "~0").replace("/", "~1")
