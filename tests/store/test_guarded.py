"""The database refuses to change what must not change, whoever asks: 21 CFR 11.10(e), old values are not obscured."""

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from test_store import PLAIN, other

from service.store.store import Store
from service.store.tables import interpretation, trail

AT = "2026-04-20T10:00:00+00:00"


@pytest.fixture
def kept(store):
    with store.writing() as book:
        book.add(PLAIN)
        book.add(other(2))
        book.trail.append("local", AT, "key-1", "interpretation.issued", "interpretation", PLAIN.id)
    return store


@pytest.mark.parametrize(
    "statement",
    [
        sa.update(trail).values(detail="{}"),
        sa.delete(trail),
        sa.update(interpretation).values(outcome="released"),
        sa.delete(interpretation),
    ],
    ids=["change a row of the trail", "remove it", "change an interpretation", "remove it unsaid"],
)
def test_what_must_stay_stays(kept, statement):
    with (
        pytest.raises(IntegrityError, match=r"appended to|never changed|after the trail says so"),
        kept.writing() as book,
    ):
        book.connection.execute(statement)


def test_the_trail_cannot_be_emptied_at_one_stroke(postgresql_url):
    """TRUNCATE passes by the triggers of rows; SQLite has no such statement."""
    store = Store(postgresql_url)
    with pytest.raises(IntegrityError, match="appended to"), store.writing() as book:
        book.connection.execute(sa.text("TRUNCATE trail"))
    store.close()


def test_an_interpretation_goes_when_its_time_is_over_and_the_trail_says_so(kept):
    mine = interpretation.c.id == PLAIN.id
    with kept.writing() as book:
        book.trail.append("local", AT, "retention", "interpretation.deleted", "interpretation", PLAIN.id)
        book.connection.execute(sa.delete(interpretation).where(mine))
    with kept.reading() as reading:
        left = reading.connection.execute(sa.select(interpretation.c.id)).scalars().all()
    assert left == ["id-2"]
