"""Organizations and keys: what is sent to make them, what is shown of them."""

import re
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlsplit

from service.contract.answer_parts import Answered, flag, string, texts, word
from service.contract.fields import Choice, Flag, Items, Text, fault, shown
from service.contract.shape import Shape

KINDS = ("county_office", "laboratory", "app", "programme")
ROLES = ("submitter", "agent", "reviewer", "table_signer", "administrator")
KEY_KINDS = ("secret", "publishable")
_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_HOST = re.compile(r"[a-z0-9.-]+|\[[0-9a-f:.]+\]")
_LOCAL = ("localhost", "127.0.0.1", "::1")


class OrganizationId(Text):
    """Small letters, digits and single hyphens."""

    def __init__(self, **more: Any) -> None:
        super().__init__(longest=48, **more)
        self.right = "2 to 48 small letters, digits and single hyphens, such as juniper-county"

    def read(self, value: Any) -> Any:
        """The id, if it is one."""
        text = super().read(value)
        if len(text) < 2 or not _ID.fullmatch(text):
            raise fault("not_an_id", f"{shown(value)} is no id", self.right)
        return text


class Moment(Text):
    """A moment with its offset (RFC 3339), kept in UTC."""

    def __init__(self, **more: Any) -> None:
        more["metadata"] = {"format": "date-time", **more.get("metadata", {})}
        super().__init__(longest=40, **more)
        self.right = "a moment such as 2027-03-01T00:00:00-07:00"

    def read(self, value: Any) -> Any:
        """The moment, to the second."""
        try:
            found = datetime.fromisoformat(super().read(value))
            if found.tzinfo is None:
                raise ValueError
            return found.astimezone(UTC).isoformat(timespec="seconds")
        except (ValueError, OverflowError):
            raise fault("not_a_moment", f"{shown(value)} is no moment with its offset", self.right) from None


class Origin(Text):
    """The origin of a page exactly as browsers send it (RFC 6454): scheme, host, port where it is not the usual one."""

    def __init__(self, **more: Any) -> None:
        super().__init__(**more)
        self.right = "an origin such as https://garden.example, without a path; http only for this machine"

    def read(self, value: Any) -> Any:
        """The origin, if it is one."""
        text: str = super().read(value)
        if not _is_origin(text):
            raise fault("not_an_origin", f"{shown(value)} is no origin", self.right)
        return text


def _is_origin(text: str) -> bool:
    try:
        parts = urlsplit(text)
        host, port = parts.hostname or "", parts.port
    except ValueError:
        return False
    named = f"[{host}]" if ":" in host else host
    usual = port is None or (parts.scheme, port) not in (("https", 443), ("http", 80))
    whole = f"{parts.scheme}://{named}" + (f":{port}" if port is not None else "")
    safe = parts.scheme == "https" or (parts.scheme == "http" and host in _LOCAL)
    return bool(_HOST.fullmatch(named)) and usual and safe and text == whole


class OrganizationForm(Shape):
    """A new organization."""

    id = OrganizationId(required=True)
    kind = Choice("organization_kind", KINDS, required=True)
    name = Text(required=True, longest=200)


class KeyForm(Shape):
    """A new key."""

    organization = OrganizationId(metadata={"description": "One's own if not given."})
    label = Text(required=True, longest=100, metadata={"description": "What the key is for."})
    roles = Items(Choice("role", ROLES), most=len(ROLES), unique=True, metadata={"description": "Of a secret key."})
    origins = Items(
        Origin(),
        most=20,
        unique=True,
        metadata={"description": "Pages that may use it; makes it publishable: it may then only submit."},
    )
    sandbox = Flag(metadata={"description": "For trying out: what it writes never counts."})
    expires_at = Moment()


class RotationForm(Shape):
    """A second key in place of one that is to end."""

    old_expires_at = Moment(metadata={"description": "End of the old key; a week from now if not given."})
    expires_at = Moment(
        metadata={"description": "End of the new key; if not given, it lives as long as the old one was to."}
    )


class OrganizationSchema(Answered):
    """An organization. Moments are in UTC."""

    id = string()
    kind = word(*KINDS)
    name = string()
    created_at = string(format="date-time")
    closed_at = string(null=True, format="date-time")


class KeySchema(Answered):
    """A key without its secret. Moments are in UTC."""

    id = string()
    organization = string()
    prefix = string(description="The key reads sb_<prefix>_<secret>.")
    kind = word(*KEY_KINDS)
    label = string()
    roles = texts()
    origins = texts("Pages that may use a publishable key.")
    sandbox = flag()
    created_at = string(format="date-time")
    created_by = string(description="The key it was made with, or command-line.")
    expires_at = string(null=True, format="date-time")
    revoked_at = string(null=True, format="date-time")
    last_used_on = string(null=True, format="date")
    replaces = string(null=True, description="The key that this one was rotated from.")


class NewKeySchema(KeySchema):
    """A new key, its secret shown this once."""

    key = string(description="The whole key; it is not kept and cannot be shown again.")
