"""Moments as they are kept where they are compared."""

from datetime import UTC, datetime


def utc(at: datetime) -> str:
    """ISO 8601 in UTC to the second, so that texts compare as times do."""
    return at.astimezone(UTC).isoformat(timespec="seconds")
