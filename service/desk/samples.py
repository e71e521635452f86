"""Samples at the counter: taken in with their form, corrected, followed until they are closed.

Who brought a sample stands in a table of its own and nowhere else: not in the form that is kept, not in the trail, not
in notices, not in the answers of these functions except `client`.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple
from uuid import uuid4

import orjson

from service.contract.answer import encoded
from service.contract.json_body import read_json
from service.contract.problem import FieldError, Problem, ProblemError, invalid
from service.contract.sample_schema import load_sample
from service.contract.signs import refuse_hidden
from service.desk import labels
from service.desk.callers import SANDBOX, Caller
from service.desk.enrolment import in_sight
from service.desk.fees import fee, fees_of
from service.desk.intake import sha256
from service.desk.issue import Reply
from service.desk.office import Office
from service.desk.sample_states import AT_LABORATORY, EXPECTED, OVER, SAMPLE, check_step, move
from service.desk.times import utc
from service.store.records import Claim
from service.store.samples import Client, Sample
from service.store.store import Book

TAKEN, CHANGED, ERASED = "sample.taken", "sample.changed", "sample.client_erased"
PERSON = ("name", "contact")
LABORATORY_KINDS = ("laboratory", "programme")


class Followed(NamedTuple):
    """One sample and its reports in sight."""

    sample: Sample
    reports: list[str]


def take(caller: Caller, office: Office, body: bytes, claim: Claim | None = None) -> Reply:
    """Take a sample in: a label, its fee, its state ``expected``. Raises ProblemError 400, 422."""
    document = _read(body)
    form = load_sample(document, office.library(office.now().date()), office.now().date())
    kept, client = _apart(document, form)
    now = utc(office.now())
    with office.records.writing() as book:
        _check_laboratory(book, caller, form.get("laboratory"))
        cents = fee(fees_of(book, caller.organization), form.get("tests") or ())
        values: dict[str, Any] = {
            "id": str(uuid4()),
            "organization": caller.organization,
            "label": _free_label(book),
            "status": EXPECTED,
            "version": 1,
            "identity": _keep_client(book, caller.organization, client, now),
            **_columns(kept, cents),
            "paid": False if cents else None,
            "created_at": now,
            "updated_at": now,
            "sandbox": caller.sandbox,
        }
        book.samples.add(values)
        detail = {"label": values["label"], "use": form["use"]}
        _note(book, caller, values["id"], caller.organization, TAKEN, values["document"], detail, now)
        book.trail.tell(caller.organization, now, "sample.status", values["id"], {"status": EXPECTED})
        reply = Reply(201, encoded(shown(Followed(Sample(serial=0, **values), []))), values["id"])
        if claim is not None:
            book.finish(claim, reply.status, reply.id, reply.body)
    return reply


def listed(caller: Caller, office: Office, before: int | None, limit: int, status: str | None) -> list[Sample]:
    """Samples in sight, newest first."""
    with office.records.reading() as reading:
        return reading.samples.page(caller.sight, before, limit, status)


def find(caller: Caller, office: Office, id: str) -> Followed:  # noqa: A002
    """One sample. Raises ProblemError 404, the same for an unknown and a foreign id."""
    with office.records.reading() as reading:
        sample = _seen(caller, reading.samples.find(id))
        return Followed(sample, reading.samples.reports(id, caller.sight))


def client(caller: Caller, office: Office, id: str) -> Client:  # noqa: A002
    """Who brought it; for the office that took it in. Raises ProblemError 404."""
    with office.records.reading() as reading:
        sample = _own(caller, reading.samples.find(id))
        found = reading.samples.client(sample.identity) if sample.identity else None
    return found or Client("", sample.organization, None, None, None, sample.created_at, None)


def change(caller: Caller, office: Office, id: str, version: int, body: bytes) -> Followed:  # noqa: A002
    """Correct the form, who brought it, or whether it is paid: members that are sent replace what was; null clears.

    Raises:
        ProblemError: 404; 409 for a sample that is closed or cancelled; 412 where it no longer stands at ``version``;
            422 for whatever the form as changed must not say.
    """
    document = _read(body)
    if not isinstance(document, dict):
        raise invalid([FieldError("", "not_an_object", "the value is not an object", "a JSON object")])
    today, now = office.now().date(), utc(office.now())
    with office.records.writing() as book:
        sample = _own(caller, book.samples.find(id))
        _check_changeable(sample, version)
        paid = _paid(document)
        merged = _merged(book, sample, document)
        form = load_sample(merged, office.library(today), today)
        kept, person = _apart(merged, form)
        if form.get("laboratory") != sample.laboratory:
            _check_laboratory(book, caller, form.get("laboratory"))
        cents = _fee_now(book, sample, document, form)
        values = {**_columns(kept, cents), "paid": _paid_now(sample, cents, paid), "updated_at": now}
        if "client" in document:
            values["identity"] = _change_client(book, caller, sample, person, now)
        if not book.samples.change(id, version, values):
            raise _quicker()
        detail = {"fields": sorted(document), **({} if paid is None else {"paid": paid})}
        _note(book, caller, id, sample.organization, CHANGED, values["document"], detail, now)
        return Followed(_seen(caller, book.samples.find(id)), book.samples.reports(id, caller.sight))


def step(caller: Caller, office: Office, id: str, after: str) -> Followed:  # noqa: A002
    """Move a sample on by hand. Raises ProblemError 404; 409 for a step it cannot take, or without its payment."""
    with office.records.writing() as book:
        sample = _seen(caller, book.samples.find(id))
        check_step(sample.status, after)
        if after == AT_LABORATORY and sample.paid is False:
            _check_unpaid(book, sample)
        move(book, sample, after, utc(office.now()), caller.actor)
        return Followed(_seen(caller, book.samples.find(id)), book.samples.reports(id, caller.sight))


def shown(found: Followed) -> dict[str, Any]:
    """One sample as it is answered: the form without its client."""
    sample, form = found.sample, orjson.loads(found.sample.document)
    plain = ("id", "label", "status", "organization", "laboratory", "fee_cents", "paid", "created_at", "updated_at")
    said = ("use", "place", "target", "site", "sample", "question", "language")
    return {
        **{name: getattr(sample, name) for name in plain},
        **{name: form.get(name) for name in said},
        "more_targets": form.get("more_targets") or [],
        "tests": form.get("tests") or [],
        "consent": form.get("consent") is True,
        "interpretations": found.reports,
    }


def language_of(sample: Sample) -> str | None:
    """The language of its report, where the form said one."""
    language: str | None = orjson.loads(sample.document).get("language")
    return language


def office_name(office: Office, sample: Sample) -> str:
    """The name of the office that took it in, else its id."""
    with office.records.reading() as reading:
        found = reading.keys.organization(sample.organization.removesuffix(SANDBOX))
    return found.name if found else sample.organization


def _read(body: bytes) -> Any:
    document = read_json(body)
    refuse_hidden(document, body)
    return document


def _apart(document: Mapping[str, Any], form: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """The form to be kept, and the client; the language of the report belongs to both."""
    person = {name: value for name, value in form.get("client", {}).items() if name in PERSON}
    language = form.get("client", {}).get("language")
    kept = {name: value for name, value in document.items() if name != "client" and value is not None}
    return {**kept, "language": language}, {**person, "language": language} if person else {}


def _columns(kept: Mapping[str, Any], cents: int | None) -> dict[str, Any]:
    place = kept.get("place") or {}
    return {
        "place": place.get("id"),
        "plan": kept["use"],
        "laboratory": kept.get("laboratory"),
        "fee_cents": cents,
        "document": encoded(dict(kept)).decode(),
    }


def _free_label(book: Book) -> str:
    while book.samples.labelled(label := labels.new_label()) is not None:
        pass
    return label


def _check_laboratory(book: Book, caller: Caller, id: str | None) -> None:  # noqa: A002
    if id is None:
        return
    found = book.keys.organization(id)
    if found is None or found.closed_at is not None or found.kind not in LABORATORY_KINDS or caller.sandbox:
        right = "the id of an organization that tests soil; none for a sample of the sandbox"
        raise invalid([FieldError("/laboratory", "unknown_laboratory", "there is no such laboratory", right)])


def _keep_client(book: Book, organization: str, person: Mapping[str, Any], now: str) -> str | None:
    if not person:
        return None
    id = str(uuid4())  # noqa: A001
    said = (person.get("name"), person.get("contact"), person.get("language"))
    book.samples.add_client(Client(id, organization, *said, now, None))
    return id


def _change_client(book: Book, caller: Caller, sample: Sample, person: Mapping[str, Any], now: str) -> str | None:
    """Who brought it from now on; without a person the former is erased."""
    former = book.samples.client(sample.identity) if sample.identity else None
    if former is None or former.erased_at is not None:
        return _keep_client(book, sample.organization, person, now) or sample.identity
    if person:
        values = {"name": None, "contact": None, **person}
        book.samples.change_client(former.id, values)
    elif book.samples.erase(former.id, now):
        _note(book, caller, sample.id, sample.organization, ERASED, "", {}, now)
    return former.id


def _merged(book: Book, sample: Sample, document: Mapping[str, Any]) -> dict[str, Any]:
    """The form as changed, with its client, so that it is checked as a whole."""
    kept = orjson.loads(sample.document)
    former = book.samples.client(sample.identity) if sample.identity else None
    person = {name: getattr(former, name) for name in PERSON} if former else {}
    client = {**person, "language": kept.pop("language", None)}
    return {**kept, "client": client, **document}


def _check_changeable(sample: Sample, version: int) -> None:
    if sample.version != version:
        raise _quicker()
    if sample.status in OVER:
        raise ProblemError(Problem("not-in-this-state", f"A sample that is {sample.status} is not changed any more."))


def _paid(document: dict[str, Any]) -> bool | None:
    """Whether it is told to be paid; taken out of the document, since the form does not say it."""
    if "paid" not in document:
        return None
    paid = document.pop("paid")
    if paid.__class__ is not bool:
        raise invalid([FieldError("/paid", "not_a_boolean", "paid is neither true nor false", "true or false")])
    return bool(paid)


def _fee_now(book: Book, sample: Sample, document: Mapping[str, Any], form: Mapping[str, Any]) -> int | None:
    """A new fee only where the tests were changed: a later schedule does not reach back."""
    if "tests" not in document:
        return sample.fee_cents
    return fee(fees_of(book, sample.organization), form.get("tests") or ())


def _paid_now(sample: Sample, cents: int | None, told: bool | None) -> bool | None:
    if not cents:
        return None
    if told is not None:
        return told
    return sample.paid if cents == sample.fee_cents else False


def _check_unpaid(book: Book, sample: Sample) -> None:
    if not fees_of(book, sample.organization).unpaid_to_laboratory:
        detail = "The fee of this sample is not paid yet, and the office sends none unpaid."
        raise ProblemError(Problem("unpaid", detail, extra={"fee_cents": sample.fee_cents}))


def _seen(caller: Caller, sample: Sample | None) -> Sample:
    if sample is None or not in_sight(caller, sample):
        raise ProblemError(Problem("not-found", "There is no sample of this id."))
    return sample


def _own(caller: Caller, sample: Sample | None) -> Sample:
    """A sample that the caller's office took in; a laboratory changes no form and learns no names."""
    found = _seen(caller, sample)
    return _seen(caller, found if caller.sees_all or found.organization == caller.organization else None)


def _quicker() -> ProblemError:
    return ProblemError(Problem("changed-meanwhile", "This sample was changed since it was read."))


def _note(
    book: Book, caller: Caller, sample: str, owner: str, action: str, document: str, detail: Mapping[str, Any], now: str
) -> None:
    content = sha256(document.encode()) if document else ""
    book.trail.append(owner, now, caller.actor, action, SAMPLE, sample, content, detail)
