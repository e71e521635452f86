"""A house with an office, another one, a laboratory and the programme, each with keys for every role."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

from api_cases import URL, with_results
from flask import Flask

from service.app import create_app
from service.desk import access_keys, organizations
from service.desk.access_keys import COMMAND_LINE, Wish
from service.desk.office import Office
from service.settings import Settings, shipped
from service.store.migrate import migrate
from service.store.store import Store

ROLES = ("submitter", "agent", "reviewer", "table_signer", "administrator")
PAGE = "https://garden.example"
OWN, OTHER, LABORATORY, PROGRAMME, CLOSED = "juniper-county", "sagebrush-county", "bench", "state", "closed-county"
KINDS = {OWN: "county_office", OTHER: "county_office", LABORATORY: "laboratory", PROGRAMME: "programme", CLOSED: "app"}
LOOSE = with_results(
    {"analyte": "pH", "method": "saturated_paste", "value": 7.8},
    {"analyte": "P", "method": "olsen", "value": 31, "unit": "mg/kg"},
)
"""A submission without a laboratory number: each time a new report."""


class House:
    """One application, its organizations and what everybody sends along."""

    def __init__(self, app: Flask, office: Office) -> None:
        self.app, self.office = app, office
        self.client = app.test_client()
        self.counter = count(1)
        self.shown: dict[str, str] = {}
        for id, kind in KINDS.items():  # noqa: A001
            organizations.create(COMMAND_LINE, office, id, kind, f"{id} (invented)")
        for role in ROLES:
            self.key(f"own {role}", OWN, Wish(role, (role,)))
            self.key(f"other {role}", OTHER, Wish(role, (role,)))
            self.key(f"programme {role}", PROGRAMME, Wish(role, (role,)))
        self.key("laboratory", LABORATORY, Wish("laboratory", ("submitter",)))
        self.key("publishable", OWN, Wish("page", (), (PAGE,)))
        self.key("sandbox", OWN, Wish("trying out", ROLES, (), True))
        self._ended()

    def _ended(self) -> None:
        revoked = self.key("revoked", OWN, Wish("lost", ROLES))
        access_keys.revoke(COMMAND_LINE, self.office, revoked)
        self.key("expired", OWN, Wish("old", ROLES, (), False, later(days=1)))
        self.key("closed", CLOSED, Wish("closed", ROLES))
        organizations.close(COMMAND_LINE, self.office, CLOSED)

    def key(self, who: str, organization: str, wish: Wish) -> str:
        """A new key; its id. What is shown of it is remembered under ``who``."""
        made = access_keys.create(COMMAND_LINE, self.office, organization, wish)
        self.shown[who] = made.shown
        return made.key.id

    def headers(self, who: str) -> dict[str, str]:
        """What this caller sends along."""
        if who == "no key":
            return {}
        headers = {"Authorization": f"Bearer {self.shown[who]}"}
        return {**headers, "Origin": PAGE} if who == "publishable" else headers

    def send(self, who: str, method: str, address: str, body: Any = None, **more: Any) -> Any:
        """The answer to one request."""
        headers = {**self.headers(who), **more.pop("headers", {})}
        answer = self.client.open(address, method=method, json=body, headers=headers, **more)
        answer.get_data()
        answer.close()
        return answer

    def posted(self, who: str = "own submitter") -> str:
        """The id of a new report."""
        return str(self.send(who, "POST", URL, LOOSE).json["id"])


def later(**span: float) -> str:
    """A moment after now, as it is kept."""
    return (datetime.now(UTC) + timedelta(**span)).isoformat(timespec="seconds")


@contextmanager
def house_in(folder: Path, office: Office) -> Iterator[House]:
    """The house on a database of its own. Its clock stands two days ahead, so that a key of one day has expired."""
    settings = Settings(data=folder)
    migrate(settings.database_url, shipped("migrations"))
    store = Store(settings.database_url)
    here = replace(office, store=store)
    house = House(create_app(settings, here), here)
    object.__setattr__(here, "now", lambda: datetime.now(UTC) + timedelta(days=2))
    yield house
    store.close()
