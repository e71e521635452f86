"""What the store hands out and takes in, as plain values."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple


class Mark(NamedTuple):
    """A report was voided or recalled: when, and why."""

    at: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One interpretation as it is kept.

    What became of it since: ``replaced_by`` the report that stands in its place, ``voided``, ``recalled``.
    """

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
    received_at: str | None = None
    county: str | None = None
    release_class: str | None = None
    released_by: str | None = None
    sandbox: bool = False
    circumstances: str | None = None
    replaced_by: str | None = None
    voided: Mark | None = None
    recalled: Mark | None = None


def sealed(record: Mapping[str, Any]) -> str:
    """A fingerprint of everything kept of one interpretation, for the trail.

    SHA-256 of its columns in canonical JSON, bytes as their own SHA-256; columns that are empty or false are left out,
    so that a column added later leaves older fingerprints as they are.
    """
    hashed = {name: _plain(value) for name, value in record.items() if not _left_out(name, value)}
    text = json.dumps(hashed, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


UNSEALED = ("serial", "replaced_by", "voided", "recalled")


def _left_out(name: str, value: Any) -> bool:
    return name in UNSEALED or value is None or value is False


def _plain(value: Any) -> Any:
    return hashlib.sha256(value).hexdigest() if isinstance(value, bytes) else value


class Sight(NamedTuple):
    """Which interpretations somebody may see: those of an organization, of all, or also those a laboratory sent in."""

    organization: str
    everything: bool = False
    laboratory: bool = False


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
