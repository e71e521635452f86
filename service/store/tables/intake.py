"""Samples as the counter takes them in, and who brought them: names apart from results."""

import sqlalchemy as sa

from service.store.tables.base import SERIAL, metadata

identity = sa.Table(
    "identity",
    metadata,
    sa.Column("id", sa.String(36), primary_key=True),
    sa.Column("organization", sa.String(64), nullable=False, index=True),
    sa.Column("name", sa.String(200)),
    sa.Column("contact", sa.Text()),
    sa.Column("language", sa.String(8)),
    sa.Column("created_at", sa.String(32), nullable=False),
    sa.Column("erased_at", sa.String(32)),
)
"""The only table with names and addresses. Erasing empties name and contact and leaves the row, so that the sample
still stands."""

sample = sa.Table(
    "sample",
    metadata,
    sa.Column("serial", SERIAL, primary_key=True, autoincrement=True),
    sa.Column("id", sa.String(36), nullable=False, unique=True),
    sa.Column("organization", sa.String(64), nullable=False),
    sa.Column("label", sa.String(20), nullable=False, unique=True),
    sa.Column("status", sa.String(24), nullable=False),
    sa.Column("version", sa.Integer(), nullable=False),
    sa.Column("identity", sa.String(36), sa.ForeignKey("identity.id")),
    sa.Column("place", sa.String(100)),
    sa.Column("plan", sa.String(30)),
    sa.Column("laboratory", sa.String(64)),
    sa.Column("fee_cents", sa.Integer()),
    sa.Column("paid", sa.Boolean()),
    sa.Column("document", sa.Text(), nullable=False),
    sa.Column("created_at", sa.String(32), nullable=False),
    sa.Column("updated_at", sa.String(32), nullable=False),
    sa.Column("sandbox", sa.Boolean(), nullable=False, server_default=sa.false()),
    sa.Index("ix_sample_organization_serial", "organization", "serial"),
    sa.Index("ix_sample_laboratory_serial", "laboratory", "serial"),
    sqlite_autoincrement=True,
)
"""``document`` is the form as JSON without the client; ``plan`` the use of the sampling plan; ``laboratory`` the
organization that will test it."""

legal_hold = sa.Table(
    "legal_hold",
    metadata,
    sa.Column("id", sa.String(36), primary_key=True),
    sa.Column("organization", sa.String(64), nullable=False, index=True),
    sa.Column("object_kind", sa.String(20), nullable=False),
    sa.Column("object_id", sa.String(64), nullable=False),
    sa.Column("reason", sa.Text(), nullable=False),
    sa.Column("placed_at", sa.String(32), nullable=False),
    sa.Column("placed_by", sa.String(64), nullable=False),
    sa.Column("lifted_at", sa.String(32)),
    sa.Index("ix_legal_hold_object_kind_object_id", "object_kind", "object_id"),
)
