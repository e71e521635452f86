"""Organizations and keys, the intake form, release and review, the trail, links, recalls; more about each report."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

SERIAL = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
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
    op.add_column("interpretation", sa.Column("laboratory_organization", sa.String(length=64)))
    op.add_column("interpretation", sa.Column("sample", sa.String(length=36)))
    op.add_column("interpretation", sa.Column("place", sa.String(length=100)))
    op.add_column("interpretation", sa.Column("taken_on", sa.String(length=10)))
    op.add_column("interpretation", sa.Column("county", sa.String(length=80)))
    op.add_column("interpretation", sa.Column("release_class", sa.String(length=160)))
    op.add_column("interpretation", sa.Column("released_by", sa.String(length=10)))
    op.add_column("interpretation", sa.Column("sandbox", sa.Boolean(), server_default=sa.false(), nullable=False))
    op.create_index(
        "ix_interpretation_laboratory_organization_serial", "interpretation", ["laboratory_organization", "serial"]
    )
    op.create_index("ix_interpretation_organization_place", "interpretation", ["organization", "place"])
    op.create_index("ix_interpretation_organization_serial", "interpretation", ["organization", "serial"])
    op.create_index(op.f("ix_interpretation_sample"), "interpretation", ["sample"])


def downgrade() -> None:
    op.drop_index(op.f("ix_interpretation_sample"), table_name="interpretation")
    op.drop_index("ix_interpretation_organization_serial", table_name="interpretation")
    op.drop_index("ix_interpretation_organization_place", table_name="interpretation")
    op.drop_index("ix_interpretation_laboratory_organization_serial", table_name="interpretation")
    op.drop_column("interpretation", "sandbox")
    op.drop_column("interpretation", "released_by")
    op.drop_column("interpretation", "release_class")
    op.drop_column("interpretation", "county")
    op.drop_column("interpretation", "taken_on")
    op.drop_column("interpretation", "place")
    op.drop_column("interpretation", "sample")
    op.drop_column("interpretation", "laboratory_organization")
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
