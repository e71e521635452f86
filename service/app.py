"""`create_app` joins everything: tables, words, database, routes, pages. The only place that knows all floors."""

from functools import lru_cache
from pathlib import Path
from typing import Any

import orjson
from flask import Flask
from flask.json.provider import JSONProvider

from service.api import guard, links, problems, voiding  # noqa: F401  links and voiding add to interpretations
from service.api.calculations import calculations
from service.api.interpretations import interpretations
from service.api.keys import keys
from service.api.library import library
from service.api.meta import CONTRACT, meta
from service.api.openapi import contract, make_api
from service.api.organizations import organizations
from service.api.privacy import privacy
from service.api.recalls import recalls
from service.api.release_classes import release_classes
from service.api.replies import OFFICE
from service.api.reviews import reviews
from service.api.samples import fees, samples
from service.api.sampling_plans import sampling_plans
from service.api.statistics import statistics
from service.api.trail import trail
from service.catalog.catalog import Catalog, load_catalog
from service.contract.answer import encoded
from service.desk.admission import keyed
from service.desk.editions import hold_editions
from service.desk.engine import engine_id
from service.desk.links import opened
from service.desk.office import Office
from service.pages import blueprint, client
from service.render.catalogue import Catalogue
from service.settings import Settings
from service.store.store import Store


class FastJson(JSONProvider):
    """orjson as Flask's JSON."""

    def dumps(self, obj: Any, **_: Any) -> str:
        """Text of a JSON document."""
        return encoded(obj).decode()

    def loads(self, s: str | bytes, **_: Any) -> Any:
        """A JSON document."""
        return orjson.loads(s)


@lru_cache(maxsize=1)
def read_tables(folders: tuple[Path, ...]) -> Catalog:
    """All tables and crops, read once; processes forked afterwards share them."""
    return load_catalog(folders)


@lru_cache(maxsize=1)
def read_texts() -> Catalogue:
    """All language catalogues, read once."""
    return Catalogue()


def make_office(settings: Settings) -> Office:
    """Tables, words and database of one process."""
    return Office(read_tables(settings.crop_folders), engine_id(), Store(settings.database_url), read_texts())


def warm(settings: Settings) -> None:
    """Read all that does not belong to one process, before workers are forked; what is kept must still have its tables.

    Raises:
        CatalogError: a table is at fault, or an edition that kept interpretations rest on is gone.
    """
    catalog = read_tables(settings.crop_folders)
    store = Store(settings.database_url)
    hold_editions(catalog, store)
    store.close()
    read_texts()
    engine_id()


def create_app(settings: Settings | None = None, office: Office | None = None) -> Flask:
    """The whole service as a WSGI application; the database must have been migrated."""
    settings = settings or Settings.from_environment()
    office = office or make_office(settings)
    app = Flask(__name__, static_folder=None)
    app.json = FastJson(app)
    app.extensions[OFFICE] = office
    guard.register(app)
    problems.register(app)
    today = office.library(office.now().date())
    api = make_api(app, today)
    desk = (
        interpretations,
        samples,
        organizations,
        fees,
        keys,
        reviews,
        release_classes,
        trail,
        statistics,
        recalls,
        privacy,
    )
    for part in (*desk, library, sampling_plans, calculations, meta):
        api.register_blueprint(part)
    spec = app.extensions[CONTRACT] = contract(api)
    pages = blueprint(
        lambda name: office.words(today, name),
        lambda: spec,
        lambda: today,
        lambda: office.catalog,
        keyed=lambda: keyed(office),
    )
    app.register_blueprint(pages)
    access = client.Access(lambda token, name: opened(office, token, name), lambda name: office.words(today, name))
    app.register_blueprint(client.blueprint(access))
    return app
