"""The tables, by what they are for."""

from service.store.tables.access import api_key, organization
from service.store.tables.base import metadata
from service.store.tables.intake import identity, legal_hold, sample
from service.store.tables.records import interpretation, layout, report_number, request_key
from service.store.tables.release import release_class, release_class_change, review, review_reason
from service.store.tables.sharing import recall, recall_item, report_link, use_word, used, void
from service.store.tables.trail import notice, trail, trail_head

REVISION = "0002"
"""The migration these tables stand at."""

__all__ = [
    "REVISION",
    "api_key",
    "identity",
    "interpretation",
    "layout",
    "legal_hold",
    "metadata",
    "notice",
    "organization",
    "recall",
    "recall_item",
    "release_class",
    "release_class_change",
    "report_link",
    "report_number",
    "request_key",
    "review",
    "review_reason",
    "sample",
    "trail",
    "trail_head",
    "use_word",
    "used",
    "void",
]
