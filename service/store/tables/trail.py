"""What was done, chained so that a later change shows, and what has to be told."""

import sqlalchemy as sa

from service.store.tables.base import SERIAL, metadata

trail = sa.Table(
    "trail",
    metadata,
    sa.Column("organization", sa.String(64), primary_key=True),
    sa.Column("sequence", SERIAL, primary_key=True, autoincrement=False),
    sa.Column("at", sa.String(32), nullable=False),
    sa.Column("actor", sa.String(64), nullable=False),
    sa.Column("action", sa.String(40), nullable=False),
    sa.Column("object_kind", sa.String(20), nullable=False),
    sa.Column("object_id", sa.String(160), nullable=False),
    sa.Column("content_sha256", sa.String(64), nullable=False),
    sa.Column("detail", sa.Text(), nullable=False),
    sa.Column("previous", sa.String(64), nullable=False),
    sa.Column("hash", sa.String(64), nullable=False),
    sa.Index("ix_trail_object_kind_object_id", "object_kind", "object_id"),
)

trail_head = sa.Table(
    "trail_head",
    metadata,
    sa.Column("organization", sa.String(64), primary_key=True),
    sa.Column("sequence", SERIAL, nullable=False, autoincrement=False),
    sa.Column("hash", sa.String(64), nullable=False),
)

notice = sa.Table(
    "notice",
    metadata,
    sa.Column("serial", SERIAL, primary_key=True, autoincrement=True),
    sa.Column("id", sa.String(36), nullable=False, unique=True),
    sa.Column("organization", sa.String(64), nullable=False),
    sa.Column("kind", sa.String(40), nullable=False),
    sa.Column("object_id", sa.String(160), nullable=False),
    sa.Column("at", sa.String(32), nullable=False),
    sa.Column("detail", sa.Text(), nullable=False, server_default="{}"),
    sa.Index("ix_notice_organization_serial", "organization", "serial"),
    sqlite_autoincrement=True,
)
"""What the organization has to be told, written with what it tells of; thin: ids, no names."""
