"""A client's rights: to be forgotten, to have all that is kept of them; and legal holds, which come first."""

from collections.abc import Iterator
from typing import Any
from uuid import uuid4

import orjson

from service.contract.problem import Problem, ProblemError
from service.desk import records
from service.desk.callers import Caller
from service.desk.office import Office
from service.desk.sample_states import SAMPLE
from service.desk.statistics import harmless
from service.desk.times import utc
from service.store.areas import Areas
from service.store.privacy import Hold
from service.store.samples import Sample

ERASED, EXPORTED = "sample.client_erased", "sample.exported"
PLACED, LIFTED = "hold.placed", "hold.lifted"
KINDS = ("interpretation", "sample", "organization")


def place(caller: Caller, office: Office, kind: str, id: str, reason: str) -> Hold:  # noqa: A002
    """Keep something beyond its time until the hold is lifted. Raises ProblemError 404."""
    owner = _owner(caller, office, kind, id)
    now = utc(office.now())
    hold = Hold(str(uuid4()), owner, kind, id, reason, now, caller.actor, None)
    with office.records.writing() as book:
        book.privacy.place(hold)
        book.trail.append(owner, now, caller.actor, PLACED, kind, id, "", {"hold": hold.id, "reason": reason})
    return hold


def _owner(caller: Caller, office: Office, kind: str, id: str) -> str:  # noqa: A002
    if kind == "interpretation":
        return records.find(caller, office, id).organization
    if kind == "sample":
        with office.records.reading() as reading:
            return _sample(caller, reading, id).organization
    if not (caller.sees_all or id == caller.organization):
        raise ProblemError(Problem("not-found", "There is no organization of this id."))
    return id


def lift(caller: Caller, office: Office, id: str) -> Hold:  # noqa: A002
    """End a hold; nothing happens to one that has ended. Raises ProblemError 404."""
    found = next((hold for hold in holds(caller, office) if hold.id == id), None)
    if found is None:
        raise ProblemError(Problem("not-found", "There is no hold of this id."))
    now = utc(office.now())
    with office.records.writing() as book:
        if book.privacy.lift(id, now):
            detail = {"hold": id}
            book.trail.append(
                found.organization, now, caller.actor, LIFTED, found.object_kind, found.object_id, "", detail
            )
    return next(hold for hold in holds(caller, office) if hold.id == id)


def holds(caller: Caller, office: Office) -> list[Hold]:
    """Holds in sight, those that ended too."""
    with office.records.reading() as reading:
        return reading.privacy.holds(None if caller.sees_all else caller.organization)


def erase(caller: Caller, office: Office, id: str) -> None:  # noqa: A002
    """Forget who brought a sample: name and contact go, results and trail stay and still prove themselves.

    Nothing happens where nobody is named any more. Raises ProblemError 404; 409 under a legal hold.
    """
    now = utc(office.now())
    with office.records.writing() as book:
        sample = _sample(caller, book, id)
        if not book.privacy.held().isdisjoint({(SAMPLE, id), ("organization", sample.organization)}):
            raise ProblemError(Problem("not-in-this-state", "A legal hold keeps this sample and its client."))
        if sample.identity is not None and book.samples.erase(sample.identity, now):
            book.trail.append(sample.organization, now, caller.actor, ERASED, SAMPLE, id, "", {})


def export(caller: Caller, office: Office, id: str) -> dict[str, Any]:  # noqa: A002
    """Everything that is kept of one sample and who brought it. Raises ProblemError 404."""
    now = utc(office.now())
    with office.records.writing() as book:
        sample = _sample(caller, book, id)
        client = book.samples.client(sample.identity) if sample.identity else None
        ids = book.samples.reports(id, caller.sight)
        trail = [entry._asdict() for name in (id, *ids) for entry in _entries(book, name)]
        book.trail.append(sample.organization, now, caller.actor, EXPORTED, SAMPLE, id, "", {"reports": len(ids)})
    reports = [orjson.loads(records.present(records.find(caller, office, name)).body) for name in ids]
    told = {"name": client.name, "contact": client.contact, "language": client.language} if client else None
    form = {**sample._asdict(), "document": orjson.loads(sample.document)}
    hidden = ("serial", "identity")
    plain = {name: value for name, value in form.items() if name not in hidden}
    return {"client": told, "sample": plain, "reports": reports, "trail": trail}


def _entries(areas: Areas, id: str) -> Iterator[Any]:  # noqa: A002
    for kind in (SAMPLE, "interpretation"):
        yield from areas.trail.of(kind, id)


def table(exported: dict[str, Any]) -> list[list[Any]]:
    """The results and amounts of an export as rows of a spreadsheet, the first one the heads."""
    rows: list[list[Any]] = [["report", "issued_at", "outcome", "what", "method", "value", "unit", "meaning"]]
    for report in exported["reports"]:
        head = [report["number"], report["issued_at"], report["outcome"]]
        for item in report["findings"]:
            figure = item["reported"] or {"value": None, "unit": None}
            rows.append([*head, item["analyte"], item["method"], figure["value"], figure["unit"], item["rating"]])
        for item in report["recommendations"]:
            rate = item["rate"] or {"value": None, "unit": None}
            rows.append([*head, item["subject"], item["kind"], rate["value"], rate["unit"], item["text"]])
    return [[harmless(cell) for cell in row] for row in rows]


def _sample(caller: Caller, areas: Areas, id: str) -> Sample:  # noqa: A002
    """One of the caller's own office; a laboratory learns no names."""
    found = areas.samples.find(id)
    own = found is not None and (found.organization == caller.organization or (caller.sees_all and not found.sandbox))
    if found is None or not own:
        raise ProblemError(Problem("not-found", "There is no sample of this id."))
    return found
