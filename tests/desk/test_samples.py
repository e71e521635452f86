"""Samples at the counter: labels, states, fees, who brought them, and the joining with the laboratory's results.

The check character is that of ISO 7064 (MOD 37,36), which promises that every single wrong character is found. Who
wins on what when form and laboratory differ is the contract's (section 6, Form and laboratory).
"""

import random
import string
from typing import Any

import orjson
import pytest
import sqlalchemy as sa
from desk_cases import LAWN, sent

from service.contract.problem import ProblemError
from service.desk import fees, labels, organizations, records, reviews, samples
from service.desk.access_keys import COMMAND_LINE
from service.desk.callers import Caller
from service.desk.fees import Fees
from service.desk.issue import answer_only, issue
from service.desk.office import Office
from service.desk.reviews import Decision
from service.desk.sample_states import BY_HAND, FOLLOWS, STATES

COUNTY = Caller("juniper-county", "county_office", frozenset(("agent", "administrator")), "key-clerk")
OTHER = Caller("cedar-county", "county_office", frozenset(("agent",)), "key-other")
BENCH = Caller("bench", "laboratory", frozenset(("submitter", "agent")), "key-bench")
RIVAL = Caller("other-bench", "laboratory", frozenset(("submitter",)), "key-rival")
READER = Caller("state", "programme", frozenset(("reviewer", "administrator")), "key-reader")
NAME, CONTACT = "Zebulon Quarrington", "555-0199 zq@garden.example"
FORM: dict[str, Any] = {
    "client": {"name": NAME, "contact": CONTACT, "language": "es"},
    "consent": True,
    "use": "lawn",
    "place": {"id": "front-lawn"},
    "target": LAWN["target"],
    "site": {"county": "Juniper", "symptoms": ["yellowing_new_leaves"]},
    "sample": {"depth": LAWN["sample"]["depth"], "container": "plastic"},
    "question": "Why does it turn yellow?",
}


@pytest.fixture
def house(office: Office) -> Office:
    """An office, another one, a laboratory, the programme."""
    for who in (COUNTY, OTHER, BENCH, RIVAL, READER):
        organizations.create(COMMAND_LINE, office, who.organization, who.kind, f"{who.organization} (invented)")
    return office


def take(office: Office, caller: Caller = COUNTY, **more: Any) -> dict[str, Any]:
    return orjson.loads(samples.take(caller, office, sent({**FORM, **more})).body)


def results(label: str, **sample: Any) -> dict[str, Any]:
    return {**LAWN, "sample": {**LAWN["sample"], "label": label, **sample}}


def post(office: Office, document: Any, caller: Caller = BENCH) -> dict[str, Any]:
    return orjson.loads(issue(caller, sent(document), office).body)


def status(office: Office, id: str) -> str:  # noqa: A002
    return samples.find(COUNTY, office, id).sample.status


def put(office: Office, id: str, state: str) -> None:  # noqa: A002
    """Set a state past all rules."""
    with office.records.writing() as book:
        found = book.samples.find(id)
        assert found is not None
        assert book.samples.change(id, found.version, {"status": state})


def refusal(act: Any) -> Any:
    with pytest.raises(ProblemError) as refused:
        act()
    return refused.value.problem


def test_every_single_wrong_character_is_found_and_nearly_every_swap() -> None:
    """ISO 7064: all single substitutions; of swaps of neighbours the pure and hybrid systems find over 95 %."""
    dice, swaps, found = random.Random(7064), 0, 0
    for _ in range(10_000):
        plain = labels.new_label().replace("-", "")
        assert labels.read(plain) == labels.shown(plain)
        at = dice.randrange(len(plain))
        other = dice.choice([sign for sign in string.ascii_uppercase + string.digits if sign != plain[at]])
        assert labels.read(plain[:at] + other + plain[at + 1 :]) is None
        left = dice.randrange(len(plain) - 1)
        if plain[left] != plain[left + 1]:
            swaps += 1
            swapped = plain[:left] + plain[left + 1] + plain[left] + plain[left + 2 :]
            found += labels.read(swapped) is None
    assert found / swaps > 0.95


def test_a_label_is_read_however_it_is_typed() -> None:
    label = labels.new_label()
    assert labels.read(label.lower().replace("-", " ")) == label
    assert [labels.read(text) for text in ("", "4H7", label + "2", "ÄÖÜ-ßß22-2")] == [None] * 4


@pytest.mark.parametrize("before", STATES)
def test_every_step_that_the_table_does_not_name_is_refused(house: Office, before: str) -> None:
    for after in BY_HAND:
        made = take(house)["id"]
        put(house, made, before)
        if after in FOLLOWS[before]:
            assert samples.step(COUNTY, house, made, after).sample.status == after
        else:
            problem = refusal(lambda made=made, after=after: samples.step(COUNTY, house, made, after))
            assert (problem.kind, problem.extra["status"], status(house, made)) == ("not-in-this-state", before, before)


def test_which_steps_there_are() -> None:
    """Common practice at a counter: nothing skips the bag's arrival, what is closed or cancelled stays so."""
    assert FOLLOWS["closed"] == FOLLOWS["cancelled"] == ()
    assert "at_laboratory" not in FOLLOWS["expected"]
    assert [state for state, after in FOLLOWS.items() if "closed" in after] == ["reported"]
    assert "received" in FOLLOWS["insufficient"], "the client sends again"


def test_an_unpaid_sample_stays_at_the_counter_unless_the_office_says_otherwise(house: Office) -> None:
    prices = Fees({"routine": 2800, "salinity": 1200})
    fees.set_schedule(COUNTY, house, COUNTY.organization, prices, fees.FREE)
    made = take(house, tests=["routine", "salinity"])
    assert (made["fee_cents"], made["paid"]) == (4000, False)
    samples.step(COUNTY, house, made["id"], "received")
    assert refusal(lambda: samples.step(COUNTY, house, made["id"], "at_laboratory")).kind == "unpaid"
    samples.change(COUNTY, house, made["id"], 2, sent({"paid": True}))
    assert samples.step(COUNTY, house, made["id"], "at_laboratory").sample.paid is True
    second = take(house, tests=["routine"])
    fees.set_schedule(COUNTY, house, COUNTY.organization, prices._replace(unpaid_to_laboratory=True), prices)
    for state in ("received", "at_laboratory"):
        samples.step(COUNTY, house, second["id"], state)
    problem = refusal(lambda: take(house, tests=["routine", "gold"]))
    assert [(error.pointer, error.allowed) for error in problem.errors] == [("/tests/1", ("routine", "salinity"))]


def test_other_tests_cost_another_fee_which_is_to_be_paid_anew(house: Office) -> None:
    fees.set_schedule(COUNTY, house, COUNTY.organization, Fees({"routine": 2800, "salinity": 1200}), fees.FREE)
    made = take(house, tests=["routine"])
    paid = samples.change(COUNTY, house, made["id"], 1, sent({"paid": True})).sample
    assert samples.change(COUNTY, house, made["id"], 2, sent({"question": "And now?"})).sample.paid is True
    more = samples.change(COUNTY, house, made["id"], 3, sent({"tests": ["routine", "salinity"]})).sample
    assert (paid.fee_cents, more.fee_cents, more.paid) == (2800, 4000, False)


def test_a_fee_schedule_is_set_on_what_was_read_and_by_its_own_office(house: Office) -> None:
    assert (
        refusal(lambda: fees.set_schedule(COUNTY, house, COUNTY.organization, Fees({}), Fees({"old": 1}))).kind
        == "changed-meanwhile"
    )
    assert refusal(lambda: fees.schedule(OTHER, house, COUNTY.organization)).kind == "not-found"


def test_faults_of_a_form_are_named_with_their_place(house: Office) -> None:
    wrong = {
        "use": "moon",
        "target": {"crop": "no-such-crop"},
        "site": {"symptoms": ["sadness"]},
        "sample": {"depth": {"top": 0, "bottom": 4}, "lab_number": "1"},
        "extra": 1,
    }
    found = {error.pointer: error.code for error in refusal(lambda: samples.take(COUNTY, house, sent(wrong))).errors}
    assert found["/use"] == "unknown_word"
    assert found["/target/crop"] == "unknown_crop"
    assert found["/site/symptoms/0"] == "unknown_word"
    assert found["/sample/depth/unit"] == "missing"
    assert found["/sample/lab_number"] == "unknown_field"
    assert found["/extra"] == "unknown_field"
    assert [error.pointer for error in refusal(lambda: take(house, consent=False)).errors] == ["/consent"]
    assert [error.pointer for error in refusal(lambda: take(house, laboratory="nobody")).errors] == ["/laboratory"]


def test_the_form_wins_on_the_ground_and_the_laboratory_on_the_figures(house: Office) -> None:
    made = take(house, laboratory="bench")
    document = results(made["label"], container="galvanized", received_on="2026-04-18")
    document |= {"target": {"crop": "vegetable-garden"}, "site": {"county": "Sage", "texture": "loam"}}
    answer = post(house, document)
    kept = records.find(COUNTY, house, answer["id"])
    joined = orjson.loads(kept.submission)
    assert (joined["target"], joined["site"]["county"], joined["site"]["texture"]) == (
        LAWN["target"],
        "Juniper",
        "loam",
    )
    assert (joined["sample"]["container"], joined["sample"]["place"]) == ("galvanized", {"id": "front-lawn"})
    assert joined["results"] == LAWN["results"]
    told = {reason["pointer"]: reason["message"] for reason in answer["reasons"] if reason["code"] == "joined_conflict"}
    assert set(told) == {"/target/crop", "/site/county", "/sample/container"}
    assert (kept.organization, kept.laboratory_organization, kept.sample) == ("juniper-county", "bench", made["id"])
    assert records.find(BENCH, house, answer["id"]).id == answer["id"]
    assert refusal(lambda: records.find(OTHER, house, answer["id"])).kind == "not-found"
    assert answer["language"] == "es"
    assert records.replay(kept, house).how == "recomputed"


def test_a_report_that_a_person_let_out_still_tells_what_contradicted(house: Office) -> None:
    made = take(house, laboratory="bench")
    answer = post(house, {**results(made["label"]), "site": {"county": "Sage"}})
    assert (answer["outcome"], status(house, made["id"])) == ("held", "waiting_review")
    with house.records.reading() as reading:
        review = reading.reviews.of(answer["id"])
    issued = reviews.decide(READER, house, review.id, Decision("approve")).issued
    assert issued is not None
    assert b"joined_conflict" in issued.answer
    assert status(house, made["id"]) == "reported"
    assert samples.find(COUNTY, house, made["id"]).reports == [answer["id"], issued.id]


def test_a_label_without_a_laboratory_joins_whichever_laboratory_holds_the_bag(house: Office) -> None:
    made = take(house)
    answer = post(house, results(made["label"]), RIVAL)
    assert samples.find(COUNTY, house, made["id"]).reports == [answer["id"]]
    with pytest.raises(ProblemError):
        post(house, results(made["label"]), OTHER)


def test_labels_that_are_not_expected_from_the_sender_are_refused_alike(house: Office) -> None:
    mine, foreign = take(house, laboratory="bench"), take(house, laboratory="other-bench")
    wrong = mine["label"][:-1] + ("2" if mine["label"][-1] != "2" else "3")
    codes = {
        label: [
            (error.pointer, error.code, error.message)
            for error in refusal(lambda label=label: post(house, results(label))).errors
        ]
        for label in (wrong, foreign["label"], labels.new_label())
    }
    assert codes[wrong][0][:2] == ("/sample/label", "wrong_label")
    assert list(codes.values())[1] == list(codes.values())[2]
    assert list(codes.values())[1][0][1] == "unknown_label"
    page = COUNTY._replace(publishable=True)
    assert refusal(lambda: post(house, results(mine["label"]), page)).errors[0].code == "unknown_label"
    put(house, mine["id"], "cancelled")
    assert refusal(lambda: post(house, results(mine["label"]))).errors[0].code == "sample_over"
    assert refusal(lambda: answer_only(BENCH, sent(results(wrong)), house)).errors[0].code == "wrong_label"


def test_the_same_join_without_keeping_leaves_the_sample_as_it_was(house: Office) -> None:
    made = take(house, laboratory="bench")
    answer = orjson.loads(answer_only(BENCH, sent({**results(made["label"]), "site": {"county": "Sage"}}), house))
    assert [reason["pointer"] for reason in answer["reasons"] if reason["code"] == "joined_conflict"] == [
        "/site/county"
    ]
    assert status(house, made["id"]) == "expected"
    assert samples.find(COUNTY, house, made["id"]).reports == []


def test_a_revision_replaces_and_a_second_target_shares_the_sample(house: Office) -> None:
    bed = {"crop": "vegetable-garden", "area": {"value": 200, "unit": "ft2"}}
    made = take(house, laboratory="bench", more_targets=[bed])
    first = post(house, results(made["label"]))
    second = post(house, results(made["label"], revision=2))
    assert second["replaces"] == first["id"]
    beside = post(house, {**results(made["label"]), "target": {"crop": "vegetable-garden"}})
    assert beside["replaces"] is None
    assert orjson.loads(records.find(COUNTY, house, beside["id"]).submission)["target"] == bed
    assert samples.find(COUNTY, house, made["id"]).reports == [first["id"], second["id"], beside["id"]]
    assert issue(BENCH, sent(results(made["label"], revision=2)), house).status == 200


def test_a_name_is_in_the_table_of_identities_and_nowhere_else(house: Office, caplog: Any) -> None:
    caplog.set_level("DEBUG")
    made = take(house, laboratory="bench")
    samples.change(COUNTY, house, made["id"], 1, sent({"question": "Why?"}))
    post(house, results(made["label"]))
    refusal(lambda: take(house, consent=False))
    said = [
        orjson.dumps(samples.shown(samples.find(who, house, made["id"]))).decode() for who in (COUNTY, BENCH, READER)
    ]
    rows: dict[str, str] = {}
    engine = house.records.engine
    with engine.connect() as connection:
        for name in sa.inspect(engine).get_table_names():
            found = connection.execute(sa.text(f'SELECT * FROM "{name}"')).all()
            rows[name] = repr(
                [[bytes(cell) if isinstance(cell, memoryview) else cell for cell in row] for row in found]
            )
    assert NAME in rows["identity"]
    for secret in (NAME, CONTACT, "Quarrington", "555-0199"):
        assert [name for name, text in rows.items() if secret in text] == ["identity"]
        assert not [text for text in (*said, caplog.text) if secret in text]
    assert samples.client(COUNTY, house, made["id"]).name == NAME
    for who in (BENCH, OTHER):
        assert refusal(lambda who=who: samples.client(who, house, made["id"])).kind == "not-found"


def test_a_client_is_corrected_and_erased(house: Office) -> None:
    made = take(house)
    samples.change(COUNTY, house, made["id"], 1, sent({"client": {"name": "Ada Example"}}))
    assert samples.client(COUNTY, house, made["id"])[2:4] == ("Ada Example", None)
    refused = refusal(lambda: samples.change(COUNTY, house, made["id"], 2, sent({"consent": False})))
    assert refused.errors[0].pointer == "/consent"
    samples.change(COUNTY, house, made["id"], 2, sent({"client": None, "consent": False}))
    erased = samples.client(COUNTY, house, made["id"])
    assert (erased.name, erased.contact, erased.erased_at is None) == (None, None, False)
    with house.records.reading() as reading:
        assert [row.action for row in reading.trail.of("sample", made["id"])] == [
            "sample.taken",
            "sample.changed",
            "sample.client_erased",
            "sample.changed",
        ]


def test_a_change_of_what_is_no_longer_so_or_over_or_foreign_is_refused(house: Office) -> None:
    made = take(house, laboratory="bench")
    body = sent({"question": "Else?"})
    samples.change(COUNTY, house, made["id"], 1, body)
    assert refusal(lambda: samples.change(COUNTY, house, made["id"], 1, body)).kind == "changed-meanwhile"
    for who in (OTHER, BENCH):
        assert refusal(lambda who=who: samples.change(who, house, made["id"], 2, body)).kind == "not-found"
    assert refusal(lambda: samples.change(COUNTY, house, "no-such-id", 2, body)).kind == "not-found"
    put(house, made["id"], "closed")
    assert refusal(lambda: samples.change(COUNTY, house, made["id"], 3, body)).kind == "not-in-this-state"


def test_lists_hold_what_is_in_sight_by_state_and_page(house: Office) -> None:
    made = [take(house)["id"] for _ in range(3)]
    sandbox = COUNTY._replace(organization="juniper-county~sandbox", sandbox=True)
    take(house, sandbox)
    tested = take(house, laboratory="bench")["id"]
    samples.step(COUNTY, house, made[0], "received")

    def ids(who: Caller, before: int | None = None, limit: int = 9, state: str | None = None) -> list[str]:
        return [sample.id for sample in samples.listed(who, house, before, limit, state)]

    assert ids(COUNTY) == ids(READER) == [tested, *reversed(made)]
    assert (ids(BENCH), ids(OTHER), len(ids(sandbox))) == ([tested], [], 1)
    assert ids(COUNTY, state="received") == [made[0]]
    first = samples.listed(COUNTY, house, None, 2, None)
    assert ids(COUNTY, first[-1].serial, 2) == [made[1], made[0]]
