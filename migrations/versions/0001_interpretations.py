"""Interpretations, the numbers they are given, and idempotency keys."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "interpretation",
        sa.Column("serial", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=True, nullable=False),
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("organization", sa.String(length=64), nullable=False),
        sa.Column("year", sa.Integer(), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=20), nullable=False),
        sa.Column("issued_at", sa.String(length=32), nullable=False),
        sa.Column("issued_on", sa.String(length=10), nullable=False),
        sa.Column("outcome", sa.String(length=10), nullable=False),
        sa.Column("crop", sa.String(length=80)),
        sa.Column("laboratory", sa.String(length=100)),
        sa.Column("lab_number", sa.String(length=100)),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("case_key", sa.String(length=64)),
        sa.Column("business_key", sa.String(length=64)),
        sa.Column("content_sha256", sa.String(length=64), nullable=False),
        sa.Column("submission", sa.LargeBinary(), nullable=False),
        sa.Column("submission_sha256", sa.String(length=64), nullable=False),
        sa.Column("answer", sa.LargeBinary(), nullable=False),
        sa.Column("answer_sha256", sa.String(length=64), nullable=False),
        sa.Column("draft", sa.LargeBinary()),
        sa.Column("engine", sa.String(length=80), nullable=False),
        sa.Column("editions", sa.Text(), nullable=False),
        sa.Column("replaces", sa.String(length=36)),
        sa.ForeignKeyConstraint(
            ["replaces"], ["interpretation.id"], name=op.f("fk_interpretation_replaces_interpretation")
        ),
        sa.PrimaryKeyConstraint("serial", name=op.f("pk_interpretation")),
        sa.UniqueConstraint("business_key", name=op.f("uq_interpretation_business_key")),
        sa.UniqueConstraint("id", name=op.f("uq_interpretation_id")),
        sa.UniqueConstraint(
            "organization", "year", "sequence", name=op.f("uq_interpretation_organization_year_sequence")
        ),
        sa.UniqueConstraint("replaces", name=op.f("uq_interpretation_replaces")),
        sqlite_autoincrement=True,
    )
    for column in ("case_key", "crop", "outcome"):
        op.create_index(op.f(f"ix_interpretation_{column}"), "interpretation", [column])
    op.create_index("ix_interpretation_laboratory_lab_number", "interpretation", ["laboratory", "lab_number"])
    op.create_table(
        "report_number",
        sa.Column("organization", sa.String(length=64), nullable=False),
        sa.Column("year", sa.Integer(), nullable=False),
        sa.Column("last", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("organization", "year", name=op.f("pk_report_number")),
    )
    op.create_table(
        "request_key",
        sa.Column("organization", sa.String(length=64), nullable=False),
        sa.Column("route", sa.String(length=100), nullable=False),
        sa.Column("key", sa.String(length=255), nullable=False),
        sa.Column("body_sha256", sa.String(length=64), nullable=False),
        sa.Column("claim", sa.String(length=36), nullable=False),
        sa.Column("claimed_at", sa.Float(), nullable=False),
        sa.Column("status", sa.Integer()),
        sa.Column("location", sa.String(length=200)),
        sa.Column("body", sa.LargeBinary()),
        sa.PrimaryKeyConstraint("organization", "route", "key", name=op.f("pk_request_key")),
    )
    op.create_index(op.f("ix_request_key_claimed_at"), "request_key", ["claimed_at"])


def downgrade() -> None:
    op.drop_table("request_key")
    op.drop_table("report_number")
    op.drop_table("interpretation")
