"""Keys and organizations at the desk, on both databases: what is kept, what is written, what reaches the trail."""

import hashlib
import json
from dataclasses import replace
from datetime import timedelta

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError

from service.contract.problem import ProblemError
from service.desk import access_keys, organizations
from service.desk.access_keys import COMMAND_LINE, Wish
from service.desk.admission import Admitted, Refused, admit, keyed, origins
from service.desk.callers import Caller
from service.desk.rights import allowed
from service.store.records import Sight

COUNTY = "juniper-county"
AGENT = Wish("front desk", ("agent",))


@pytest.fixture
def county(office):
    """An office with one organization."""
    organizations.create(COMMAND_LINE, office, COUNTY, "county_office", "Juniper County (invented)")
    return office


def at(office, **span):
    """The same office later."""
    return replace(office, now=lambda: office.now() + timedelta(**span))


def test_of_a_secret_only_its_hash_is_kept(county):
    made = access_keys.create(COMMAND_LINE, county, COUNTY, AGENT)
    mark, prefix, secret = made.shown.split("_")
    with county.records.reading() as reading:
        found = reading.keys.presented(prefix)
    assert mark == "sb"
    assert found.secret_sha256 == hashlib.sha256(secret.encode()).hexdigest()
    assert secret not in repr(found)


def test_a_key_admits_its_organization(county):
    made = access_keys.create(COMMAND_LINE, county, COUNTY, AGENT)
    assert admit(county, made.shown) == Admitted(
        Caller(COUNTY, "county_office", frozenset(("agent",)), made.key.id), ()
    )


def test_a_key_ends_on_its_moment(county):
    end = (county.now() + timedelta(hours=1)).isoformat()
    made = access_keys.create(COMMAND_LINE, county, COUNTY, AGENT._replace(expires_at=end))
    assert isinstance(admit(at(county, minutes=59, seconds=59), made.shown), Admitted)
    assert admit(at(county, hours=1), made.shown) == Refused("The key has expired.")


def test_last_use_is_written_once_a_day(county):
    made = access_keys.create(COMMAND_LINE, county, COUNTY, AGENT)
    written = []
    sa.event.listen(
        county.records.engine,
        "before_cursor_execute",
        lambda *said: written.append(said[2]) if said[2].startswith("UPDATE") else None,
    )
    for _ in range(5):
        admit(county, made.shown)
    assert len(written) == 1
    tomorrow = at(county, days=1)
    for _ in range(5):
        admit(tomorrow, made.shown)
    assert len(written) == 2
    assert access_keys.find(COMMAND_LINE, county, made.key.id).last_used_on == "2026-04-21"


def test_a_key_is_found_by_the_index_of_its_prefix(county):
    """One look-up each request: no scan, however many keys there are."""
    lite = county.records.engine.dialect.name == "sqlite"
    query = "SELECT * FROM api_key JOIN organization ON organization.id = organization WHERE prefix = ''"
    with county.records.engine.connect() as connection:
        if not lite:  # a table of one page is otherwise read whole, index or not
            connection.execute(sa.text("SET enable_seqscan = off"))
        explained = connection.execute(sa.text(f"EXPLAIN {'QUERY PLAN ' if lite else ''}{query}"))
        plan = " ".join(str(row) for row in explained)
    assert ("SEARCH api_key USING INDEX" if lite else "uq_api_key_prefix") in plan
    assert "SCAN" not in plan


def test_a_rotated_key_never_lives_longer_than_it_was_to(county):
    end = (county.now() + timedelta(days=2)).isoformat()
    old = access_keys.create(COMMAND_LINE, county, COUNTY, AGENT._replace(expires_at=end))
    later = at(county, days=1)
    new = access_keys.rotate(COMMAND_LINE, later, old.key.id)
    assert access_keys.find(COMMAND_LINE, county, old.key.id).expires_at == end
    assert new.key.expires_at == (county.now() + timedelta(days=3)).isoformat()


def test_a_rotated_key_lives_a_week_beside_the_new_one(county):
    old = access_keys.create(COMMAND_LINE, county, COUNTY, AGENT)
    new = access_keys.rotate(COMMAND_LINE, county, old.key.id)
    for shown, days, lives in ((old.shown, 6, True), (old.shown, 7, False), (new.shown, 700, True)):
        assert isinstance(admit(at(county, days=days), shown), Admitted) is lives


@pytest.mark.parametrize("ended", ["revoked", "expired", "rotated", "closed"])
def test_a_key_that_has_ended_or_was_rotated_is_not_rotated(county, ended):
    end = (county.now() + timedelta(hours=1)).isoformat()
    made = access_keys.create(COMMAND_LINE, county, COUNTY, AGENT._replace(expires_at=end))
    if ended == "revoked":
        access_keys.revoke(COMMAND_LINE, county, made.key.id)
    elif ended == "rotated":
        access_keys.rotate(COMMAND_LINE, county, made.key.id)
    elif ended == "closed":
        organizations.close(COMMAND_LINE, county, COUNTY)
    with pytest.raises(ProblemError) as refused:
        access_keys.rotate(COMMAND_LINE, at(county, hours=2 if ended == "expired" else 0), made.key.id)
    assert refused.value.problem.status == 409


def test_one_key_has_one_successor_whatever_happens_at_once(county):
    """What the desk checks, the database holds."""
    old = access_keys.create(COMMAND_LINE, county, COUNTY, AGENT).key
    with county.records.writing() as book:
        book.keys.add(old._replace(id="a", prefix="a", replaces=old.id), "0")
    with pytest.raises(IntegrityError), county.records.writing() as book:
        book.keys.add(old._replace(id="b", prefix="b", replaces=old.id), "0")


def test_the_end_of_a_revoked_key_stays_the_first(county):
    made = access_keys.create(COMMAND_LINE, county, COUNTY, AGENT)
    first = access_keys.revoke(COMMAND_LINE, county, made.key.id).revoked_at
    assert access_keys.revoke(COMMAND_LINE, at(county, days=1), made.key.id).revoked_at == first
    assert admit(county, made.shown) == Refused("The key was revoked.")


def test_once_keyed_for_ever_keyed(county):
    assert not keyed(county)
    made = access_keys.create(COMMAND_LINE, county, COUNTY, AGENT)
    access_keys.revoke(COMMAND_LINE, county, made.key.id)
    assert keyed(county)
    assert keyed(at(county, days=1))


def test_only_live_keys_open_an_origin(county):
    wish = Wish("page", (), ("https://garden.example", "https://yard.example"))
    end = (county.now() + timedelta(hours=1)).isoformat()
    made = access_keys.create(COMMAND_LINE, county, COUNTY, wish)
    access_keys.create(COMMAND_LINE, county, COUNTY, Wish("short", (), ("https://short.example",), False, end))
    assert origins(county) == {*wish.origins, "https://short.example"}
    assert origins(at(county, hours=1)) == set(wish.origins)
    access_keys.revoke(COMMAND_LINE, county, made.key.id)
    assert origins(county) == {"https://short.example"}
    organizations.close(COMMAND_LINE, county, COUNTY)
    assert origins(county) == set()


def test_every_change_leaves_a_row_of_the_trail_without_a_secret(county):
    made = access_keys.create(COMMAND_LINE, county, COUNTY, AGENT)
    new = access_keys.rotate(COMMAND_LINE, county, made.key.id)
    access_keys.revoke(COMMAND_LINE, county, made.key.id)
    organizations.close(COMMAND_LINE, county, COUNTY)
    with county.records.reading() as reading:
        rows = list(reading.trail.entries(COUNTY))
    actions = ["organization.created", "key.created", "key.rotated", "key.revoked", "organization.closed"]
    assert [row.action for row in rows] == actions
    assert {row.actor for row in rows} == {"command-line"}
    assert json.loads(rows[2].detail)["replaces"] == made.key.id
    told = "".join(map(repr, rows))
    assert made.shown.rpartition("_")[2] not in told
    assert new.shown.rpartition("_")[2] not in told


def test_a_sandbox_key_writes_on_a_desk_of_its_own(county):
    made = access_keys.create(COMMAND_LINE, county, COUNTY, Wish("try", ("administrator", "agent"), (), True))
    caller = admit(county, made.shown).caller
    assert caller.sandbox
    assert caller.sight == Sight("juniper-county~sandbox")
    beyond = ("manage_keys", "manage_organizations", "sign_tables")
    assert [scope for scope in beyond if allowed(caller, scope)] == []


@pytest.mark.parametrize("scope", ["", "king", "*"])
def test_a_scope_that_nobody_wrote_down_is_nobodys(scope):
    everything = Caller("state", "programme", frozenset(("submitter", "agent", "reviewer", "administrator")), "k")
    assert not allowed(everything, scope)
