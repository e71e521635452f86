"""Organizations and keys, the intake form, release and review, the trail, links, recalls; more about each report."""

import hashlib

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

SERIAL = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    _move_editions_out()
    op.create_table(
        "identity",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("organization", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(length=200)),
        sa.Column("contact", sa.Text()),
        sa.Column("language", sa.String(length=8)),
        sa.Column("created_at", sa.String(length=32), nullable=False),
        sa.Column("erased_at", sa.String(length=32)),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_identity")),
    )
    op.create_index(op.f("ix_identity_organization"), "identity", ["organization"])
    op.create_table(
        "legal_hold",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("organization", sa.String(length=64), nullable=False),
        sa.Column("object_kind", sa.String(length=20), nullable=False),
        sa.Column("object_id", sa.String(length=64), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("placed_at", sa.String(length=32), nullable=False),
        sa.Column("placed_by", sa.String(length=64), nullable=False),
        sa.Column("lifted_at", sa.String(length=32)),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_legal_hold")),
    )
    op.create_index("ix_legal_hold_object_kind_object_id", "legal_hold", ["object_kind", "object_id"])
    op.create_index(op.f("ix_legal_hold_organization"), "legal_hold", ["organization"])
    op.create_table(
        "notice",
        sa.Column("serial", SERIAL, autoincrement=True, nullable=False),
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("organization", sa.String(length=64), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("object_id", sa.String(length=160), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("detail", sa.Text(), server_default="{}", nullable=False),
        sa.PrimaryKeyConstraint("serial", name=op.f("pk_notice")),
        sa.UniqueConstraint("id", name=op.f("uq_notice_id")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_notice_organization_serial", "notice", ["organization", "serial"])
    op.create_table(
        "organization",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("created_at", sa.String(length=32), nullable=False),
        sa.Column("closed_at", sa.String(length=32)),
        sa.Column("settings", sa.Text(), server_default="{}", nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_organization")),
    )
    op.create_table(
        "recall",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("organization", sa.String(length=64), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("by", sa.String(length=64), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("criteria", sa.Text(), nullable=False),
        sa.Column("found", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recall")),
    )
    op.create_index(op.f("ix_recall_organization"), "recall", ["organization"])
    op.create_table(
        "release_class",
        sa.Column("id", sa.String(length=160), nullable=False),
        sa.Column("crop_group", sa.String(length=80), nullable=False),
        sa.Column("organization", sa.String(length=64), nullable=False),
        sa.Column("mode", sa.String(length=10), nullable=False),
        sa.Column("reread_pct", sa.Float()),
        sa.Column("changed_at", sa.String(length=32), nullable=False),
        sa.Column("changed_by", sa.String(length=64), nullable=False),
        sa.Column("reason", sa.Text(), server_default="", nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_release_class")),
    )
    op.create_index("ix_release_class_organization_crop_group", "release_class", ["organization", "crop_group"])
    op.create_table(
        "release_class_change",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("release_class", sa.String(length=160), nullable=False),
        sa.Column("mode", sa.String(length=10), nullable=False),
        sa.Column("asked_at", sa.String(length=32), nullable=False),
        sa.Column("asked_by", sa.String(length=64), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("basis", sa.Text(), nullable=False),
        sa.Column("effective_at", sa.String(length=32)),
        sa.Column("approved_by", sa.String(length=64)),
        sa.Column("decided_at", sa.String(length=32)),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_release_class_change")),
    )
    op.create_index(op.f("ix_release_class_change_release_class"), "release_class_change", ["release_class"])
    op.create_table(
        "trail",
        sa.Column("organization", sa.String(length=64), nullable=False),
        sa.Column("sequence", SERIAL, autoincrement=False, nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("actor", sa.String(length=64), nullable=False),
        sa.Column("action", sa.String(length=40), nullable=False),
        sa.Column("object_kind", sa.String(length=20), nullable=False),
        sa.Column("object_id", sa.String(length=160), nullable=False),
        sa.Column("content_sha256", sa.String(length=64), nullable=False),
        sa.Column("detail", sa.Text(), nullable=False),
        sa.Column("previous", sa.String(length=64), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("organization", "sequence", name=op.f("pk_trail")),
    )
    op.create_index("ix_trail_object_kind_object_id", "trail", ["object_kind", "object_id"])
    op.create_table(
        "trail_head",
        sa.Column("organization", sa.String(length=64), nullable=False),
        sa.Column("sequence", SERIAL, autoincrement=False, nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("organization", name=op.f("pk_trail_head")),
    )
    op.create_table(
        "use_word",
        sa.Column("id", SERIAL, autoincrement=True, nullable=False),
        sa.Column("word", sa.String(length=250), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_use_word")),
        sa.UniqueConstraint("word", name=op.f("uq_use_word_word")),
    )
    op.create_table(
        "used",
        sa.Column("word", SERIAL, nullable=False),
        sa.Column("interpretation", SERIAL, nullable=False),
        sa.PrimaryKeyConstraint("word", "interpretation", name=op.f("pk_used")),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "api_key",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("organization", sa.String(length=64), nullable=False),
        sa.Column("prefix", sa.String(length=16), nullable=False),
        sa.Column("secret_sha256", sa.String(length=64), nullable=False),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("label", sa.String(length=100), nullable=False),
        sa.Column("roles", sa.String(length=200), nullable=False),
        sa.Column("origins", sa.Text(), server_default="", nullable=False),
        sa.Column("sandbox", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.Column("created_at", sa.String(length=32), nullable=False),
        sa.Column("created_by", sa.String(length=64), nullable=False),
        sa.Column("expires_at", sa.String(length=32)),
        sa.Column("revoked_at", sa.String(length=32)),
        sa.Column("last_used_on", sa.String(length=10)),
        sa.Column("replaces", sa.String(length=36)),
        sa.ForeignKeyConstraint(
            ["organization"], ["organization.id"], name=op.f("fk_api_key_organization_organization")
        ),
        sa.ForeignKeyConstraint(["replaces"], ["api_key.id"], name=op.f("fk_api_key_replaces_api_key")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_api_key")),
        sa.UniqueConstraint("prefix", name=op.f("uq_api_key_prefix")),
        sa.UniqueConstraint("replaces", name=op.f("uq_api_key_replaces")),
    )
    op.create_index(op.f("ix_api_key_organization"), "api_key", ["organization"])
    op.create_table(
        "recall_item",
        sa.Column("recall", sa.String(length=36), nullable=False),
        sa.Column("interpretation", sa.String(length=36), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.ForeignKeyConstraint(["recall"], ["recall.id"], name=op.f("fk_recall_item_recall_recall")),
        sa.PrimaryKeyConstraint("recall", "interpretation", name=op.f("pk_recall_item")),
    )
    op.create_index("ix_recall_item_interpretation", "recall_item", ["interpretation"])
    op.create_table(
        "report_link",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("token_sha256", sa.String(length=64), nullable=False),
        sa.Column("interpretation", sa.String(length=36), nullable=False),
        sa.Column("organization", sa.String(length=64), nullable=False),
        sa.Column("created_at", sa.String(length=32), nullable=False),
        sa.Column("created_by", sa.String(length=64), nullable=False),
        sa.Column("expires_at", sa.String(length=32), nullable=False),
        sa.Column("revoked_at", sa.String(length=32)),
        sa.ForeignKeyConstraint(
            ["interpretation"], ["interpretation.id"], name=op.f("fk_report_link_interpretation_interpretation")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_report_link")),
        sa.UniqueConstraint("token_sha256", name=op.f("uq_report_link_token_sha256")),
    )
    op.create_index(op.f("ix_report_link_interpretation"), "report_link", ["interpretation"])
    op.create_table(
        "review",
        sa.Column("serial", SERIAL, autoincrement=True, nullable=False),
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("interpretation", sa.String(length=36), nullable=False),
        sa.Column("organization", sa.String(length=64), nullable=False),
        sa.Column("release_class", sa.String(length=160)),
        sa.Column("crop_group", sa.String(length=80)),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("by_rules", sa.String(length=10), nullable=False),
        sa.Column("urgency", sa.Integer(), nullable=False),
        sa.Column("opened_at", sa.String(length=32), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("claimed_by", sa.String(length=64)),
        sa.Column("claimed_until", sa.String(length=32)),
        sa.Column("decision", sa.String(length=10)),
        sa.Column("decided_at", sa.String(length=32)),
        sa.Column("decided_by", sa.String(length=64)),
        sa.Column("reason", sa.Text()),
        sa.Column("edits", sa.Text()),
        sa.Column("notes", sa.Text()),
        sa.Column("tests", sa.Text()),
        sa.Column("serious", sa.Boolean()),
        sa.Column("issued", sa.String(length=36)),
        sa.Column("sandbox", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.ForeignKeyConstraint(
            ["interpretation"], ["interpretation.id"], name=op.f("fk_review_interpretation_interpretation")
        ),
        sa.PrimaryKeyConstraint("serial", name=op.f("pk_review")),
        sa.UniqueConstraint("id", name=op.f("uq_review_id")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_review_crop_group_kind", "review", ["crop_group", "kind"])
    op.create_index(op.f("ix_review_interpretation"), "review", ["interpretation"])
    op.create_index("ix_review_state_urgency_serial", "review", ["state", "urgency", "serial"])
    op.create_table(
        "sample",
        sa.Column("serial", SERIAL, autoincrement=True, nullable=False),
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("organization", sa.String(length=64), nullable=False),
        sa.Column("label", sa.String(length=20), nullable=False),
        sa.Column("status", sa.String(length=24), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("identity", sa.String(length=36)),
        sa.Column("place", sa.String(length=100)),
        sa.Column("plan", sa.String(length=30)),
        sa.Column("laboratory", sa.String(length=64)),
        sa.Column("fee_cents", sa.Integer()),
        sa.Column("paid", sa.Boolean()),
        sa.Column("document", sa.Text(), nullable=False),
        sa.Column("created_at", sa.String(length=32), nullable=False),
        sa.Column("updated_at", sa.String(length=32), nullable=False),
        sa.Column("sandbox", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.ForeignKeyConstraint(["identity"], ["identity.id"], name=op.f("fk_sample_identity_identity")),
        sa.PrimaryKeyConstraint("serial", name=op.f("pk_sample")),
        sa.UniqueConstraint("id", name=op.f("uq_sample_id")),
        sa.UniqueConstraint("label", name=op.f("uq_sample_label")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_sample_laboratory_serial", "sample", ["laboratory", "serial"])
    op.create_index("ix_sample_organization_serial", "sample", ["organization", "serial"])
    op.create_table(
        "void",
        sa.Column("interpretation", sa.String(length=36), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.Column("by", sa.String(length=64), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["interpretation"], ["interpretation.id"], name=op.f("fk_void_interpretation_interpretation")
        ),
        sa.PrimaryKeyConstraint("interpretation", name=op.f("pk_void")),
    )
    op.create_table(
        "review_reason",
        sa.Column("review", SERIAL, nullable=False),
        sa.Column("code", sa.String(length=80), nullable=False),
        sa.Column("severity", sa.String(length=10), nullable=False),
        sa.ForeignKeyConstraint(["review"], ["review.serial"], name=op.f("fk_review_reason_review_review")),
        sa.PrimaryKeyConstraint("review", "code", name=op.f("pk_review_reason")),
    )
    op.create_index("ix_review_reason_code", "review_reason", ["code"])
    _guard()


def downgrade() -> None:
    _unguard()
    op.drop_index("ix_review_reason_code", table_name="review_reason")
    op.drop_table("review_reason")
    op.drop_table("void")
    op.drop_index("ix_sample_organization_serial", table_name="sample")
    op.drop_index("ix_sample_laboratory_serial", table_name="sample")
    op.drop_table("sample")
    op.drop_index("ix_review_state_urgency_serial", table_name="review")
    op.drop_index(op.f("ix_review_interpretation"), table_name="review")
    op.drop_index("ix_review_crop_group_kind", table_name="review")
    op.drop_table("review")
    op.drop_index(op.f("ix_report_link_interpretation"), table_name="report_link")
    op.drop_table("report_link")
    op.drop_index("ix_recall_item_interpretation", table_name="recall_item")
    op.drop_table("recall_item")
    op.drop_index(op.f("ix_api_key_organization"), table_name="api_key")
    op.drop_table("api_key")
    op.drop_table("used")
    op.drop_table("use_word")
    op.drop_table("trail_head")
    op.drop_index("ix_trail_object_kind_object_id", table_name="trail")
    op.drop_table("trail")
    op.drop_index(op.f("ix_release_class_change_release_class"), table_name="release_class_change")
    op.drop_table("release_class_change")
    op.drop_index("ix_release_class_organization_crop_group", table_name="release_class")
    op.drop_table("release_class")
    op.drop_index(op.f("ix_recall_organization"), table_name="recall")
    op.drop_table("recall")
    op.drop_table("organization")
    op.drop_index("ix_notice_organization_serial", table_name="notice")
    op.drop_table("notice")
    op.drop_index(op.f("ix_legal_hold_organization"), table_name="legal_hold")
    op.drop_index("ix_legal_hold_object_kind_object_id", table_name="legal_hold")
    op.drop_table("legal_hold")
    op.drop_index(op.f("ix_identity_organization"), table_name="identity")
    op.drop_table("identity")
    _move_editions_in()


def _columns() -> list[sa.Column]:
    return [
        sa.Column("serial", SERIAL, autoincrement=True, nullable=False),
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
        sa.Column("submission_sha256", sa.String(length=64), nullable=False),
        sa.Column("answer_sha256", sa.String(length=64), nullable=False),
        sa.Column("engine", sa.String(length=80), nullable=False),
        sa.Column("replaces", sa.String(length=36)),
    ]


def _added() -> list[sa.Column]:
    return [
        sa.Column("laboratory_organization", sa.String(length=64)),
        sa.Column("sample", sa.String(length=36)),
        sa.Column("place", sa.String(length=100)),
        sa.Column("taken_on", sa.String(length=10)),
        sa.Column("received_at", sa.String(length=32)),
        sa.Column("county", sa.String(length=80)),
        sa.Column("release_class", sa.String(length=160)),
        sa.Column("released_by", sa.String(length=10)),
        sa.Column("sandbox", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.Column("circumstances", sa.Text()),
    ]


def _documents() -> list[sa.Column]:
    return [
        sa.Column("submission", sa.LargeBinary(), nullable=False),
        sa.Column("answer", sa.LargeBinary(), nullable=False),
        sa.Column("draft", sa.LargeBinary()),
    ]


def _first() -> list[str]:
    """The columns of 0001, but ``editions``."""
    return [column.name for column in (*_columns(), *_documents())]


def _constraints() -> list[sa.Constraint]:
    return [
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
    ]


INDEXES = {
    "ix_interpretation_case_key": ["case_key"],
    "ix_interpretation_issued_on_organization": ["issued_on", "organization", "serial"],
    "ix_interpretation_laboratory_lab_number": ["laboratory", "lab_number"],
    "ix_interpretation_laboratory_organization_serial": ["laboratory_organization", "serial"],
    "ix_interpretation_layout_crop": ["layout", "crop"],
    "ix_interpretation_organization_crop_serial": ["organization", "crop", "serial"],
    "ix_interpretation_organization_outcome_serial": ["organization", "outcome", "serial"],
    "ix_interpretation_organization_place_serial": ["organization", "place", "serial"],
    "ix_interpretation_organization_serial": ["organization", "serial"],
    "ix_interpretation_outcome_serial": ["outcome", "serial"],
    "ix_interpretation_sample": ["sample"],
}
FORMER_INDEXES = {
    "ix_interpretation_case_key": ["case_key"],
    "ix_interpretation_crop": ["crop"],
    "ix_interpretation_laboratory_lab_number": ["laboratory", "lab_number"],
    "ix_interpretation_outcome": ["outcome"],
}


def _move_editions_out() -> None:
    """The editions move to a table of their own, and on SQLite the documents to the end of the row.

    Nothing refers to interpretations yet but they themselves, so the table may be made anew and filled in order.
    """
    layout = op.create_table(
        "layout",
        sa.Column("id", SERIAL, autoincrement=True, nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("editions", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_layout")),
        sa.UniqueConstraint("sha256", name=op.f("uq_layout_sha256")),
    )
    kept = op.get_bind().execute(sa.text("SELECT DISTINCT editions FROM interpretation")).scalars().all()
    rows = [{"sha256": hashlib.sha256(editions.encode()).hexdigest(), "editions": editions} for editions in kept]
    if rows:
        op.bulk_insert(layout, rows)
    _drop_indexes()
    if op.get_bind().dialect.name == "postgresql":
        _alter(
            add=[*_added(), sa.Column("layout", SERIAL)], fill="layout = layout.id", where=BY_TEXT, drop=["editions"]
        )
        op.create_foreign_key(LAYOUT_KEY, "interpretation", "layout", ["layout"], ["id"])
    else:
        points = sa.ForeignKeyConstraint(["layout"], ["layout.id"], name=LAYOUT_KEY)
        shape = [*_columns(), *_added(), sa.Column("layout", SERIAL, nullable=False), *_documents(), points]
        _remake(shape, "layout", "layout.id", BY_TEXT)
    for name, columns in INDEXES.items():
        op.create_index(name, "interpretation", columns)


def _move_editions_in() -> None:
    _drop_indexes()
    editions = sa.Column("editions", sa.Text())
    if op.get_bind().dialect.name == "postgresql":
        gone = ["layout", *(column.name for column in _added())]
        _alter(add=[editions], fill="editions = layout.editions", where=BY_ID, drop=gone)
    else:
        editions.nullable = False
        _remake([*_columns(), *_documents(), editions], "editions", "layout.editions", BY_ID)
    op.drop_table("layout")
    for name, columns in FORMER_INDEXES.items():
        op.create_index(name, "interpretation", columns)


LAYOUT_KEY = "fk_interpretation_layout_layout"
BY_TEXT = "layout.editions = interpretation.editions"
BY_ID = "layout.id = interpretation.layout"


def _alter(add: list[sa.Column], fill: str, where: str, drop: list[str]) -> None:
    for column in add:
        op.add_column("interpretation", column)
    op.execute(f"UPDATE interpretation SET {fill} FROM layout WHERE {where}")  # noqa: S608
    op.alter_column("interpretation", add[-1].name, nullable=False)
    for name in drop:
        op.drop_column("interpretation", name)


def _remake(shape: list[sa.Column | sa.Constraint], column: str, value: str, where: str) -> None:
    """SQLite: make the table anew under its name, fill it from the former one, one column of the layout beside."""
    op.rename_table("interpretation", "interpretation_before")
    op.create_table("interpretation", *shape, *_constraints(), sqlite_autoincrement=True)
    copied = ", ".join(f"old.{name}" for name in _first())
    op.execute(
        f"INSERT INTO interpretation ({', '.join(_first())}, {column}) SELECT {copied}, {value} "  # noqa: S608
        f"FROM interpretation_before old JOIN layout ON {where.replace('interpretation.', 'old.')} ORDER BY old.serial"
    )
    op.drop_table("interpretation_before")


def _drop_indexes() -> None:
    for index in sa.inspect(op.get_bind()).get_indexes("interpretation"):
        if not index.get("duplicates_constraint"):
            op.drop_index(index["name"], table_name="interpretation")


REFUSALS = (
    ("trail", "UPDATE", "the trail is only ever appended to", ""),
    ("trail", "DELETE", "the trail is only ever appended to", ""),
    ("interpretation", "UPDATE", "an interpretation is never changed", ""),
    (
        "interpretation",
        "DELETE",
        "an interpretation is deleted only after the trail says so",
        "NOT EXISTS (SELECT 1 FROM trail WHERE object_kind = 'interpretation' AND object_id = OLD.id "
        "AND action = 'interpretation.deleted')",
    ),
)
"""Table, statement, what the database answers, and when (empty: always)."""


def _guard() -> None:
    """The database itself refuses to change what must not change."""
    make = _guard_postgresql if op.get_bind().dialect.name == "postgresql" else _guard_sqlite
    for refusal in REFUSALS:
        make(*refusal)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("CREATE TRIGGER trail_truncate BEFORE TRUNCATE ON trail EXECUTE FUNCTION trail_delete()")


def _guard_sqlite(table: str, statement: str, answer: str, when: str) -> None:
    op.execute(
        f"CREATE TRIGGER {table}_{statement.lower()} BEFORE {statement} ON {table} {when and f'WHEN {when} '}"
        f"BEGIN SELECT RAISE(ABORT, '{answer}'); END"
    )


def _guard_postgresql(table: str, statement: str, answer: str, when: str) -> None:
    name = f"{table}_{statement.lower()}"
    refuse = f"RAISE EXCEPTION '{answer}' USING ERRCODE = 'restrict_violation';"
    given = "OLD" if statement == "DELETE" else "NEW"
    body = f"IF {when} THEN {refuse} END IF; RETURN {given};" if when else refuse
    op.execute(f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {body} END $$")
    op.execute(f"CREATE TRIGGER {name} BEFORE {statement} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()")


def _unguard() -> None:
    postgresql = op.get_bind().dialect.name == "postgresql"
    if postgresql:
        op.execute("DROP TRIGGER trail_truncate ON trail")
    for table, statement, _, _ in REFUSALS:
        name = f"{table}_{statement.lower()}"
        op.execute(f"DROP TRIGGER {name}" + (f" ON {table}" if postgresql else ""))
        if postgresql:
            op.execute(f"DROP FUNCTION {name}()")
