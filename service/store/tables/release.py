"""What goes out unread and what a person looks at."""

import sqlalchemy as sa

from service.store.tables.base import SERIAL, metadata

release_class = sa.Table(
    "release_class",
    metadata,
    sa.Column("id", sa.String(160), primary_key=True),
    sa.Column("crop_group", sa.String(80), nullable=False),
    sa.Column("organization", sa.String(64), nullable=False),
    sa.Column("mode", sa.String(10), nullable=False),
    sa.Column("reread_pct", sa.Float()),
    sa.Column("changed_at", sa.String(32), nullable=False),
    sa.Column("changed_by", sa.String(64), nullable=False),
    sa.Column("reason", sa.Text(), nullable=False, server_default=""),
    sa.Index("ix_release_class_organization_crop_group", "organization", "crop_group"),
)
"""``mode``: shadow, release or paused. The row ``all`` is the stop switch for everything."""

release_class_change = sa.Table(
    "release_class_change",
    metadata,
    sa.Column("id", sa.String(36), primary_key=True),
    sa.Column("release_class", sa.String(160), nullable=False, index=True),
    sa.Column("mode", sa.String(10), nullable=False),
    sa.Column("asked_at", sa.String(32), nullable=False),
    sa.Column("asked_by", sa.String(64), nullable=False),
    sa.Column("reason", sa.Text(), nullable=False),
    sa.Column("basis", sa.Text(), nullable=False),
    sa.Column("effective_at", sa.String(32)),
    sa.Column("approved_by", sa.String(64)),
    sa.Column("decided_at", sa.String(32)),
)
"""A wish to let a class out unread, waiting for a second person or for its day. ``basis``: unverified rows it rests
on, agreement counted so far."""

review = sa.Table(
    "review",
    metadata,
    sa.Column("serial", SERIAL, primary_key=True, autoincrement=True),
    sa.Column("id", sa.String(36), nullable=False, unique=True),
    sa.Column("interpretation", sa.String(36), sa.ForeignKey("interpretation.id"), nullable=False, index=True),
    sa.Column("organization", sa.String(64), nullable=False),
    sa.Column("release_class", sa.String(160)),
    sa.Column("crop_group", sa.String(80)),
    sa.Column("kind", sa.String(12), nullable=False),
    sa.Column("by_rules", sa.String(10), nullable=False),
    sa.Column("urgency", sa.Integer(), nullable=False),
    sa.Column("opened_at", sa.String(32), nullable=False),
    sa.Column("state", sa.String(10), nullable=False),
    sa.Column("claimed_by", sa.String(64)),
    sa.Column("claimed_until", sa.String(32)),
    sa.Column("decision", sa.String(10)),
    sa.Column("decided_at", sa.String(32)),
    sa.Column("decided_by", sa.String(64)),
    sa.Column("reason", sa.Text()),
    sa.Column("edits", sa.Text()),
    sa.Column("notes", sa.Text()),
    sa.Column("tests", sa.Text()),
    sa.Column("serious", sa.Boolean()),
    sa.Column("issued", sa.String(36)),
    sa.Column("sandbox", sa.Boolean(), nullable=False, server_default=sa.false()),
    sa.Index("ix_review_state_urgency_serial", "state", "urgency", "serial"),
    sa.Index("ix_review_crop_group_kind", "crop_group", "kind"),
    sqlite_autoincrement=True,
)
"""``kind``: held, shadow or reread. ``by_rules``: what the rules alone would have given. ``state``: open, waiting
(asked for data), closed. ``issued``: the interpretation that the decision made."""

review_reason = sa.Table(
    "review_reason",
    metadata,
    sa.Column("review", SERIAL, sa.ForeignKey("review.serial"), primary_key=True),
    sa.Column("code", sa.String(80), primary_key=True),
    sa.Column("severity", sa.String(10), nullable=False),
    sa.Index("ix_review_reason_code", "code"),
)
