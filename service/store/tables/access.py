"""Who may come in: organizations and their keys."""

import sqlalchemy as sa

from service.store.tables.base import metadata

organization = sa.Table(
    "organization",
    metadata,
    sa.Column("id", sa.String(64), primary_key=True),
    sa.Column("kind", sa.String(20), nullable=False),
    sa.Column("name", sa.String(200), nullable=False),
    sa.Column("created_at", sa.String(32), nullable=False),
    sa.Column("closed_at", sa.String(32)),
    sa.Column("settings", sa.Text(), nullable=False, server_default="{}"),
)
"""``kind``: county_office, laboratory, app or programme (sees all). ``settings``: fee schedule, contact, retention."""

api_key = sa.Table(
    "api_key",
    metadata,
    sa.Column("id", sa.String(36), primary_key=True),
    sa.Column("organization", sa.String(64), sa.ForeignKey("organization.id"), nullable=False, index=True),
    sa.Column("prefix", sa.String(16), nullable=False, unique=True),
    sa.Column("secret_sha256", sa.String(64), nullable=False),
    sa.Column("kind", sa.String(12), nullable=False),
    sa.Column("label", sa.String(100), nullable=False),
    sa.Column("roles", sa.String(200), nullable=False),
    sa.Column("origins", sa.Text(), nullable=False, server_default=""),
    sa.Column("sandbox", sa.Boolean(), nullable=False, server_default=sa.false()),
    sa.Column("created_at", sa.String(32), nullable=False),
    sa.Column("created_by", sa.String(64), nullable=False),
    sa.Column("expires_at", sa.String(32)),
    sa.Column("revoked_at", sa.String(32)),
    sa.Column("last_used_on", sa.String(10)),
    sa.Column("replaces", sa.String(36), sa.ForeignKey("api_key.id"), unique=True),
)
"""``kind``: secret or publishable. The secret itself is never kept: only its prefix, to find it, and its hash.
``origins`` are separated by spaces. ``replaces`` is the key that this one was rotated from; a key has one successor."""
