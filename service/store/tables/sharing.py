"""What becomes of issued reports: links for clients, voiding, what each rests on, recalls."""

import sqlalchemy as sa

from service.store.tables.base import SERIAL, metadata

report_link = sa.Table(
    "report_link",
    metadata,
    sa.Column("id", sa.String(36), primary_key=True),
    sa.Column("token_sha256", sa.String(64), nullable=False, unique=True),
    sa.Column("interpretation", sa.String(36), sa.ForeignKey("interpretation.id"), nullable=False, index=True),
    sa.Column("organization", sa.String(64), nullable=False),
    sa.Column("created_at", sa.String(32), nullable=False),
    sa.Column("created_by", sa.String(64), nullable=False),
    sa.Column("expires_at", sa.String(32), nullable=False),
    sa.Column("revoked_at", sa.String(32)),
)

void = sa.Table(
    "void",
    metadata,
    sa.Column("interpretation", sa.String(36), sa.ForeignKey("interpretation.id"), primary_key=True),
    sa.Column("at", sa.String(32), nullable=False),
    sa.Column("by", sa.String(64), nullable=False),
    sa.Column("reason", sa.Text(), nullable=False),
)

use_word = sa.Table(
    "use_word",
    metadata,
    sa.Column("id", SERIAL, primary_key=True, autoincrement=True),
    sa.Column("word", sa.String(250), nullable=False, unique=True),
)

used = sa.Table(
    "used",
    metadata,
    sa.Column("word", SERIAL, primary_key=True),
    sa.Column("interpretation", SERIAL, primary_key=True),
    sqlite_with_rowid=False,
)
"""What every interpretation rests on: ``word`` is the id of a `use_word` such as ``rule:...`` or ``row:...``,
``interpretation`` the serial number. Narrow, because there are some forty for each report."""

recall = sa.Table(
    "recall",
    metadata,
    sa.Column("id", sa.String(36), primary_key=True),
    sa.Column("organization", sa.String(64), nullable=False, index=True),
    sa.Column("at", sa.String(32), nullable=False),
    sa.Column("by", sa.String(64), nullable=False),
    sa.Column("reason", sa.Text(), nullable=False),
    sa.Column("criteria", sa.Text(), nullable=False),
    sa.Column("found", sa.Integer(), nullable=False),
)

recall_item = sa.Table(
    "recall_item",
    metadata,
    sa.Column("recall", sa.String(36), sa.ForeignKey("recall.id"), primary_key=True),
    sa.Column("interpretation", sa.String(36), primary_key=True),
    sa.Column("state", sa.String(12), nullable=False),
    sa.Index("ix_recall_item_interpretation", "interpretation"),
)
"""``state``: listed, held (shown as withdrawn), reissued."""
