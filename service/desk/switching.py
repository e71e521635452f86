"""Switching release classes: stopping at once, trying in the shadow, letting out unread with a second person's word."""

from datetime import datetime, timedelta
from typing import Any, NamedTuple
from uuid import uuid4

import orjson

from service.catalog.worklist import worklist
from service.contract.problem import Problem, ProblemError
from service.desk.agreement import upper_bound
from service.desk.callers import LOCAL, Caller
from service.desk.office import Office
from service.desk.release import (
    ALL,
    NO_CROP,
    PAUSED,
    RELEASE,
    SHADOW,
    acting,
    class_id,
    first_mode,
    first_share,
    near_end,
    signed_until,
)
from service.desk.times import utc
from service.store.classes import Change, ReleaseClass
from service.store.reviews import Agreement, Review
from service.store.store import Book

ALONE_HOURS = 24
"""How long somebody waits who has nobody to approve a wish."""
CASES_WANTED = 500
"""Cases that should be read without a serious difference first: then the error is below 0.6 % (rule of three). It is
shown beside every wish; the second person answers for fewer."""
SWITCHED = "release_class.switched"
ASKED = "release_class.asked"
CLASS = "release_class"
BY_ITSELF = "A re-reading found a serious difference."
SHOWN_ROWS = 50


class Shown(NamedTuple):
    """A class as it stands, what was found of the agreement in its crop group, and open wishes to change it."""

    switch: ReleaseClass
    agreement: Agreement
    error_upper_95: float
    wishes: tuple[Change, ...]
    signed_until: str | None = None


def listed(caller: Caller, office: Office, organization: str | None = None) -> list[Shown]:
    """Every class of an office, set by hand or not, and the switch for all; the programme names the office."""
    owner = organization if organization is not None and caller.sees_all else caller.organization
    groups = sorted({crop.group for crop in office.library(office.now().date()).crops.values()} | {NO_CROP})
    ids = (ALL, *(class_id(group, owner) for group in groups))
    with office.records.reading() as reading:
        known = reading.classes.some(ids)
        found = {line.crop_group: line for line in _by_group(reading.reviews.agreement())}
        return [
            _shown(office, known.get(id) or _unset(caller, id, owner), found, tuple(reading.classes.open_wishes(id)))
            for id in ids  # noqa: A001
        ]


def one(caller: Caller, office: Office, id: str) -> Shown:  # noqa: A002
    """One class. Raises ProblemError 404 for an unknown or foreign one."""
    owner = _owner(caller, office, id)
    with office.records.reading() as reading:
        switch = reading.classes.some((id,)).get(id) or _unset(caller, id, owner)
        found = {line.crop_group: line for line in _by_group(reading.reviews.agreement(switch.crop_group))}
        return _shown(office, switch, found, tuple(reading.classes.open_wishes(id)))


def switch(caller: Caller, office: Office, id: str, mode: str, reason: str) -> ReleaseClass:  # noqa: A002
    """Pause a class, or bring it back to the shadow: at once, by one person. Raises ProblemError 404, 409."""
    owner = _owner(caller, office, id)
    if id == ALL and mode == SHADOW:
        raise ProblemError(Problem("not-in-this-state", "The switch for all only stops: pause it or resume it."))
    with office.records.writing() as book:
        return _set(book, caller, office.now(), _standing(book, caller, id, owner)._replace(mode=mode), reason)


def resume(caller: Caller, office: Office, id: str, reason: str) -> ReleaseClass:  # noqa: A002
    """Lift the stop for all; a single class comes back in the shadow. Raises ProblemError 404, 409."""
    owner = _owner(caller, office, id)
    with office.records.writing() as book:
        before = _standing(book, caller, id, owner)
        if before.mode != PAUSED:
            raise ProblemError(Problem("not-in-this-state", "This class is not stopped."))
        after = before._replace(mode=RELEASE if id == ALL else SHADOW)
        return _set(book, caller, office.now(), after, reason)


def reread(caller: Caller, office: Office, id: str, share_pct: float, reason: str) -> ReleaseClass:  # noqa: A002
    """Set the share of unread reports that is drawn for re-reading. Raises ProblemError 404."""
    owner = _owner(caller, office, id)
    with office.records.writing() as book:
        written = _standing(book, caller, id, owner)._replace(reread_pct=share_pct)
        return _kept(book, caller, office.now(), written, reason, {"reread_pct": share_pct})


def wish(caller: Caller, office: Office, id: str, reason: str) -> Change:  # noqa: A002
    """Ask that a class goes out unread; somebody else approves, or the same person a day later.

    The wish keeps what it rests on: the agreement so far and the rows nobody has checked against print.
    """
    now = office.now()
    shown = one(caller, office, id)
    basis = _basis(office, shown)
    alone = utc(now + timedelta(hours=ALONE_HOURS))
    change = Change(str(uuid4()), id, RELEASE, utc(now), caller.actor, reason, basis, alone, None, None)
    with office.records.writing() as book:
        _mind_wish(_standing(book, caller, id, shown.switch.organization), book.classes.open_wishes(id), now)
        book.classes.ask(change)
        detail = {"change": change.id, "reason": reason}
        book.trail.append(caller.organization, _at(now), caller.actor, ASKED, CLASS, id, "", detail)
    return change


def _mind_wish(switch: ReleaseClass, open_wishes: list[Change], now: datetime) -> None:
    """Raises ProblemError 409 where there is nothing to ask for, where it is stopped, or asked for already."""
    if switch.mode == RELEASE and not near_end(switch, now):
        raise ProblemError(Problem("not-in-this-state", "There is nothing to ask for: it is not held back."))
    if switch.mode == PAUSED:
        raise ProblemError(Problem("not-in-this-state", "This class is stopped: resume it first."))
    if open_wishes:
        raise ProblemError(Problem("not-in-this-state", f"The wish {open_wishes[0].id} is still open."))


def approve(caller: Caller, office: Office, id: str, change_id: str) -> ReleaseClass:  # noqa: A002
    """Approve a wish as a second person, or alone once its day has come. Raises ProblemError 404, 409."""
    now = office.now()
    owner = _owner(caller, office, id)
    with office.records.writing() as book:
        change = book.classes.wish(change_id)
        if change is None or change.release_class != id:
            raise ProblemError(Problem("not-found", "There is no such wish for this class."))
        if change.decided_at is not None:
            raise ProblemError(Problem("not-in-this-state", "This wish is not open any more."))
        if change.asked_by == caller.actor and utc(now) < (change.effective_at or ""):
            detail = f"Somebody else has to approve it, or you yourself from {change.effective_at} on."
            raise ProblemError(Problem("second-person", detail))
        book.classes.decide(change_id, utc(now), caller.actor)
        reason = change.reason if change.asked_by != caller.actor else f"{change.reason} (approved alone after a day)"
        return _set(book, caller, now, _standing(book, caller, id, owner)._replace(mode=change.mode), reason)


def back_to_shadow(book: Book, caller: Caller, review: Review, at: str) -> None:
    """One serious difference brings the class of a report back to the shadow, in the transaction that found it."""
    if review.release_class is None or review.crop_group is None:
        return
    book.classes.lapse(review.release_class, at)
    known = book.classes.some((review.release_class,)).get(review.release_class)
    if (known.mode if known else RELEASE if review.organization == LOCAL else SHADOW) != RELEASE:
        return
    share = known.reread_pct if known else None
    changed = ReleaseClass(
        review.release_class, review.crop_group, review.organization, SHADOW, share, at, caller.actor, BY_ITSELF
    )
    book.classes.put(changed)
    book.trail.append(
        review.organization, at, caller.actor, SWITCHED, CLASS, changed.id, "", {"mode": SHADOW, "reason": BY_ITSELF}
    )
    book.trail.tell(review.organization, at, SWITCHED, changed.id, {"mode": SHADOW})


def _set(book: Book, caller: Caller, now: datetime, changed: ReleaseClass, reason: str) -> ReleaseClass:
    """Write a new mode; a wish asked before a class was taken back rests on what no longer holds, and lapses."""
    if changed.mode != RELEASE:
        book.classes.lapse(changed.id, utc(now))
    return _kept(book, caller, now, changed._replace(changed_at=utc(now)), reason, {"mode": changed.mode})


def _kept(
    book: Book, caller: Caller, now: datetime, changed: ReleaseClass, reason: str, detail: dict[str, Any]
) -> ReleaseClass:
    """``changed_at`` says since when the mode stands: it is what a class has to be signed again by."""
    written = changed._replace(changed_at=changed.changed_at or utc(now), changed_by=caller.actor, reason=reason)
    book.classes.put(written)
    told = {**detail, "reason": reason}
    book.trail.append(caller.organization, _at(now), caller.actor, SWITCHED, CLASS, written.id, "", told)
    book.trail.tell(written.organization, _at(now), SWITCHED, written.id, detail)
    return written


def _standing(book: Book, caller: Caller, id: str, owner: str) -> ReleaseClass:  # noqa: A002
    """The switch as it stands inside the transaction, so that nobody's stop is undone by a change made beside it."""
    return book.classes.some((id,)).get(id) or _unset(caller, id, owner)


def _owner(caller: Caller, office: Office, id: str) -> str:  # noqa: A002
    """The office of a class in sight. Raises ProblemError 404."""
    if id == ALL:
        if caller.sees_all:
            return caller.organization
        raise ProblemError(Problem("not-found", "There is no such release class."))
    group, _, owner = id.partition(".")
    groups = {crop.group for crop in office.library(office.now().date()).crops.values()} | {NO_CROP}
    if group not in groups or not owner or not (caller.sees_all or owner == caller.organization):
        raise ProblemError(Problem("not-found", "There is no such release class."))
    return owner


def _unset(caller: Caller, id: str, owner: str) -> ReleaseClass:  # noqa: A002
    """A class that nobody has set."""
    group = ALL if id == ALL else id.partition(".")[0]
    mode = RELEASE if id == ALL or owner == LOCAL else first_mode(caller._replace(organization=owner))
    return ReleaseClass(id, group, owner, mode, first_share(caller), "", "", "")


def _shown(office: Office, switch: ReleaseClass, found: dict[str, Agreement], wishes: tuple[Change, ...]) -> Shown:
    agreement = found.get(switch.crop_group, Agreement(switch.crop_group, "both", 0, 0, 0))
    bound = upper_bound(agreement.decided - agreement.agreed, agreement.decided)
    until = signed_until(switch)
    return Shown(acting(switch, office.now()), agreement, bound, wishes, utc(until) if until else None)


def _by_group(lines: list[Agreement]) -> list[Agreement]:
    """Shadow and re-reading together: the evidence is the same."""
    groups: dict[str, Agreement] = {}
    for line in lines:
        before = groups.get(line.crop_group, Agreement(line.crop_group, "both", 0, 0, 0))
        groups[line.crop_group] = Agreement(
            line.crop_group,
            "both",
            before.decided + line.decided,
            before.agreed + line.agreed,
            before.serious + line.serious,
        )
    return list(groups.values())


def _basis(office: Office, shown: Shown) -> str:
    """What a release rests on: agreement so far, and rows not checked against print, the weightiest first."""
    items = worklist(office.catalog)
    rows = [{"table": item.row.table.id, "line": item.row.line} for item in items[:SHOWN_ROWS]]
    agreement = {**shown.agreement._asdict(), "error_upper_95": shown.error_upper_95, "cases_wanted": CASES_WANTED}
    return orjson.dumps({"agreement": agreement, "unverified_rows": len(items), "weightiest": rows}).decode()


def _at(now: datetime) -> str:
    return now.isoformat(timespec="seconds")
