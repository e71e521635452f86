"""Interpretations, their numbers, and the keys of requests. An interpretation is written once and never changed."""

import sqlalchemy as sa

from service.store.tables.base import SERIAL, metadata

interpretation = sa.Table(
    "interpretation",
    metadata,
    sa.Column("serial", SERIAL, primary_key=True, autoincrement=True),
    sa.Column("id", sa.String(36), nullable=False, unique=True),
    sa.Column("organization", sa.String(64), nullable=False),
    sa.Column("year", sa.Integer(), nullable=False),
    sa.Column("sequence", sa.Integer(), nullable=False),
    sa.Column("number", sa.String(20), nullable=False),
    sa.Column("issued_at", sa.String(32), nullable=False),
    sa.Column("issued_on", sa.String(10), nullable=False),
    sa.Column("outcome", sa.String(10), nullable=False),
    sa.Column("crop", sa.String(80)),
    sa.Column("laboratory", sa.String(100)),
    sa.Column("lab_number", sa.String(100)),
    sa.Column("revision", sa.Integer(), nullable=False),
    sa.Column("case_key", sa.String(64), index=True),
    sa.Column("business_key", sa.String(64), unique=True),
    sa.Column("content_sha256", sa.String(64), nullable=False),
    sa.Column("submission_sha256", sa.String(64), nullable=False),
    sa.Column("answer_sha256", sa.String(64), nullable=False),
    sa.Column("engine", sa.String(80), nullable=False),
    sa.Column("replaces", sa.String(36), sa.ForeignKey("interpretation.id"), unique=True),
    sa.Column("laboratory_organization", sa.String(64)),
    sa.Column("sample", sa.String(36), index=True),
    sa.Column("place", sa.String(100)),
    sa.Column("taken_on", sa.String(10)),
    sa.Column("received_at", sa.String(32)),
    sa.Column("county", sa.String(80)),
    sa.Column("release_class", sa.String(160)),
    sa.Column("released_by", sa.String(10)),
    sa.Column("sandbox", sa.Boolean(), nullable=False, server_default=sa.false()),
    sa.Column("circumstances", sa.Text()),
    sa.Column("layout", SERIAL, sa.ForeignKey("layout.id"), nullable=False),
    sa.Column("submission", sa.LargeBinary(), nullable=False),
    sa.Column("answer", sa.LargeBinary(), nullable=False),
    sa.Column("draft", sa.LargeBinary()),
    sa.UniqueConstraint("organization", "year", "sequence"),
    sa.Index("ix_interpretation_laboratory_lab_number", "laboratory", "lab_number"),
    sa.Index("ix_interpretation_organization_serial", "organization", "serial"),
    sa.Index("ix_interpretation_organization_outcome_serial", "organization", "outcome", "serial"),
    sa.Index("ix_interpretation_organization_crop_serial", "organization", "crop", "serial"),
    sa.Index("ix_interpretation_organization_place_serial", "organization", "place", "serial"),
    sa.Index("ix_interpretation_laboratory_organization_serial", "laboratory_organization", "serial"),
    sa.Index("ix_interpretation_outcome_serial", "outcome", "serial"),
    sa.Index("ix_interpretation_layout_crop", "layout", "crop"),
    sa.Index("ix_interpretation_issued_on_organization", "issued_on", "organization", "serial"),
    sqlite_autoincrement=True,
)
"""``answer`` is what the submitter sees; ``draft`` the whole, where that is more. ``business_key`` is null when the
sample has no laboratory number or was refused: then the number stays free. ``organization`` owns the report;
``laboratory_organization`` is the laboratory that sent the results where that is another one. ``sample`` is the intake
form it was joined with; ``received_at`` when the sample came in, a moment or a day; ``released_by`` is ``rules`` or
``person``; a ``sandbox`` record never counts. The documents stand last: SQLite reads a row only as far as it must."""

layout = sa.Table(
    "layout",
    metadata,
    sa.Column("id", SERIAL, primary_key=True, autoincrement=True),
    sa.Column("sha256", sa.String(64), nullable=False, unique=True),
    sa.Column("editions", sa.Text(), nullable=False),
)
"""Every set of editions that reports were made with; thousands of reports share one."""

report_number = sa.Table(
    "report_number",
    metadata,
    sa.Column("organization", sa.String(64), primary_key=True),
    sa.Column("year", sa.Integer(), primary_key=True),
    sa.Column("last", sa.Integer(), nullable=False),
)

request_key = sa.Table(
    "request_key",
    metadata,
    sa.Column("organization", sa.String(64), primary_key=True),
    sa.Column("route", sa.String(100), primary_key=True),
    sa.Column("key", sa.String(255), primary_key=True),
    sa.Column("body_sha256", sa.String(64), nullable=False),
    sa.Column("claim", sa.String(36), nullable=False),
    sa.Column("claimed_at", sa.Float(), nullable=False, index=True),
    sa.Column("status", sa.Integer()),
    sa.Column("location", sa.String(200)),
    sa.Column("body", sa.LargeBinary()),
)
"""Idempotency keys. ``status`` is null while the first request runs."""
