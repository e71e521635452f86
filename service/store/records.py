"""What the store hands out and takes in, as plain values."""

from dataclasses import dataclass
from typing import NamedTuple


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One interpretation as it is kept; ``replaced_by`` is what became of it since."""

    id: str
    organization: str
    year: int
    sequence: int
    number: str
    issued_at: str
    issued_on: str
    outcome: str
    crop: str | None
    laboratory: str | None
    lab_number: str | None
    revision: int
    case_key: str | None
    business_key: str | None
    content_sha256: str
    submission: bytes
    submission_sha256: str
    answer: bytes
    answer_sha256: str
    draft: bytes | None
    engine: str
    editions: str
    replaces: str | None
    laboratory_organization: str | None = None
    sample: str | None = None
    place: str | None = None
    taken_on: str | None = None
    county: str | None = None
    release_class: str | None = None
    released_by: str | None = None
    sandbox: bool = False
    replaced_by: str | None = None


class Heading(NamedTuple):
    """One line of a list of interpretations."""

    serial: int
    id: str
    number: str
    issued_at: str
    outcome: str
    crop: str | None
    laboratory: str | None
    lab_number: str | None
    revision: int
    replaces: str | None
    replaced_by: str | None


class Former(NamedTuple):
    """An earlier revision of the same case."""

    id: str
    revision: int
    business_key: str
    content_sha256: str


class Claim(NamedTuple):
    """A taken idempotency key. ``token`` tells this request from a later one that took the key over."""

    organization: str
    route: str
    key: str
    token: str


class Kept(NamedTuple):
    """What is known of an idempotency key; ``status`` is None while its first request runs."""

    body_sha256: str
    claimed_at: float
    status: int | None
    location: str | None
    body: bytes | None
