"""A secret planted and looked for: answers, errors, lists, headers, logs, output, every byte of the database."""

import logging
from pathlib import Path

import pytest
import sqlalchemy as sa
from access_cases import LOOSE, OWN, PAGE, House, house_in
from api_cases import URL

from service.api import interpretations
from service.desk.access_keys import Wish

READS = (
    URL,
    f"{URL}/nothing",
    "/v1/keys",
    "/v1/organizations",
    "/v1/openapi.json",
    "/v1/nothing",
    "/v1/reviews",
    f"{URL}?limit=x",
    f"{URL}?cursor=x",
)


def secret_of(shown: str) -> str:
    return shown.rpartition("_")[2]


def test_a_secret_is_in_no_answer_log_or_byte_of_the_database(tmp_path, office_of_all, caplog, capfd, monkeypatch):
    caplog.set_level(logging.DEBUG)
    with house_in(tmp_path, office_of_all) as house:
        made = house.send(
            "programme administrator", "POST", "/v1/keys", {"label": "planted", "roles": ["administrator"]}
        )
        house.shown["planted"] = made.json["key"]
        rotated = house.send("planted", "POST", f"/v1/keys/{made.json['id']}/rotate", {})
        secrets = [secret_of(shown) for shown in (*house.shown.values(), rotated.json["key"])]
        assert all(len(secret) == 48 for secret in secrets)
        said = answers_of(house, monkeypatch)
        said += [record.getMessage() + str(record.exc_text or "") for record in caplog.records]
        rows = [str(row) for row in every_row(house)]
        house.office.records.close()
    said += [caplog.text, *capfd.readouterr()]
    stored = b"".join(path.read_bytes() for path in sorted(Path(tmp_path).rglob("*")) if path.is_file())
    assert made.json["prefix"].encode() in stored
    assert any("provoked" in text for text in said)
    for secret in secrets:
        assert not [text for text in (*said, *rows) if secret in text]
        assert secret.encode() not in stored


def answers_of(house: House, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Bodies and headers of right and wrong requests with the planted key in right and wrong places."""
    shown = house.shown["planted"]
    places = (
        {"Authorization": f"Bearer {shown}"},
        {"Authorization": f"Basic {shown}"},
        {"Authorization": shown},
        {"Authorization": f"Bearer {shown}x"},
        {"Authorization": f"Bearer  {shown}, Bearer {shown}"},
        {"Authorization": f"Bearer {shown}", "Origin": PAGE},
        {"Authorization": f"Bearer {shown}", "Origin": "https://other.example"},
    )
    answers = [house.client.get(path, headers=headers) for path in READS for headers in places]
    answers += [house.client.post(URL, json=body, headers=headers) for body in (LOOSE, {}) for headers in places]

    def provoked(*_: object) -> None:
        raise RuntimeError("provoked")

    monkeypatch.setattr(interpretations, "issue", provoked)
    failed = house.client.post(URL, json=LOOSE, headers=places[0])
    assert failed.status_code == 500
    return [answer.text + str(answer.headers) for answer in (*answers, failed)]


def every_row(house: House) -> list[tuple[object, ...]]:
    engine = house.office.records.engine
    found: list[tuple[object, ...]] = []
    with engine.connect() as connection:
        for name in sa.inspect(engine).get_table_names():
            found += [tuple(row) for row in connection.execute(sa.text(f'SELECT * FROM "{name}"'))]
    return found


def test_secrets_are_long_random_and_never_the_same(tmp_path, office_of_all):
    """NIST SP 800-63B: look-up secrets of at least 112 bits may be kept under a plain approved hash; ours have 192."""
    with house_in(tmp_path, office_of_all) as house:
        for number in range(50):
            house.key(f"key {number}", OWN, Wish("many", ("agent",)))
        secrets = {secret_of(shown) for shown in house.shown.values()}
        assert len(secrets) == len(house.shown)
        assert all(len(bytes.fromhex(secret)) * 8 == 192 for secret in secrets)
        bits = "".join(f"{int(secret, 16):0192b}" for secret in secrets)
        assert abs(bits.count("1") / len(bits) - 0.5) < 0.03
