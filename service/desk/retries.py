"""Idempotency keys: a request sent again gets the first answer and leaves no second effect."""

import time
from collections.abc import Callable
from uuid import uuid4

from service.contract.problem import Problem, ProblemError
from service.desk.callers import Caller
from service.desk.intake import sha256
from service.desk.issue import Reply
from service.desk.office import Office
from service.store.records import Claim, Kept
from service.store.store import ClaimLostError

STALE_AFTER = 60.0
"""Seconds after which a request that never finished is taken for dead: far above what any request takes."""


def once(caller: Caller, office: Office, route: str, key: str, body: bytes, act: Callable[[Claim], Reply]) -> Reply:
    """Run ``act`` unless this key has an answer already.

    ``act`` keeps its reply under the claim in the same transaction as its effect.

    Raises:
        ProblemError: 409 the first request still runs; 422 the key came with another body.
    """
    claim = Claim(caller.organization, route, key, str(uuid4()))
    digest = sha256(body)
    with office.records.writing() as book:
        kept = book.claim(claim, digest, time.time(), STALE_AFTER)
    if kept is not None:
        return _answered(kept, digest)
    try:
        return act(claim)
    except ClaimLostError:
        raise _running() from None
    except BaseException:
        with office.records.writing() as book:
            book.release(claim)
        raise


def _answered(kept: Kept, digest: str) -> Reply:
    if kept.body_sha256 != digest:
        raise ProblemError(Problem("key-reused", "This Idempotency-Key came with another body before."))
    if kept.status is None or kept.body is None:
        raise _running()
    return Reply(kept.status, kept.body, kept.location)


def _running() -> ProblemError:
    detail = "The first request with this Idempotency-Key is still running."
    return ProblemError(Problem("still-running", detail, headers={"Retry-After": "1"}))
