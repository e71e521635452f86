"""The examples of the contract: one request and one answer for each operation, made here, executed by the tests.

After a change that a reader of the contract would see: ``python tests/api/examples.py`` and a line in CHANGES.md.
Members that differ from run to run are written as they came once and left out when compared.
"""

import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

import orjson
from flask import Flask

from service.agronomy.calculations import CALCULATIONS
from service.api.replies import OFFICE as OFFICE_OF
from service.app import create_app, make_office
from service.catalog.catalog import Catalog
from service.commands.serve import prepare
from service.desk import access_keys, organizations, switching
from service.desk.access_keys import COMMAND_LINE, Wish
from service.desk.callers import OPEN_CALLER
from service.desk.office import Office
from service.settings import Settings
from service.store.store import Store

FOLDER = Path(__file__).resolve().parents[2] / "openapi" / "examples"
SHOWN = 2
MOMENT = datetime(2026, 4, 20, 9, 30, tzinfo=UTC)
VOLATILE = frozenset(("id", "sha256", "next", "key", "prefix", "created_by", "replaces", "object_id", "hash", "label"))
VOLATILE |= frozenset(("interpretation", "issued", "url", "printed", "qr_svg", "detail", "previous", "content_sha256"))
ADDRESS = "/v1/interpretations"
SENDING, CHANGING = ("POST", "PATCH", "PUT"), ("PATCH", "PUT")
DRAWN, HEAD = ("printLabel", "drawLabel"), 32
"""Drawings of a code that is drawn by lot: only their beginning is an example."""


ENGINE = "saltbush 0.1.0+000000000000"
ROW_CHECK = {
    "line": 2,
    "by": "Ana Reader",
    "copy": "library copy, second printing",
    "on": "2026-04-02",
    "corrections": [{"column": "sources", "value": "HB60"}],
}
"""What the example of a check against print sends."""
OFFICE = {"id": "juniper-county", "kind": "county_office", "name": "Juniper County (invented)"}
NEW_KEY = {"organization": "juniper-county", "label": "front desk", "roles": ["agent"]}
DRILL = {"reason": "A drill."}
BODIES = {
    **dict.fromkeys(("pauseReleaseClass", "resumeReleaseClass", "shadowReleaseClass", "wishRelease"), DRILL),
    "setRereading": {"share_pct": 10, "reason": "A new crop in this county."},
    "decideReview": {
        "decision": "edit",
        "reason": "The lawn is in deep shade.",
        "edits": [
            {"subject": "N", "rate": {"value": 2, "unit": "lb/1000 ft2"}, "reason": "It grows slowly in deep shade."}
        ],
        "notes": [{"phrase": "water_deep_seldom"}],
    },
    "takeSample": {
        "client": {"name": "Ada Example", "contact": "ada@garden.example", "language": "es"},
        "consent": True,
        "use": "lawn",
        "place": {"id": "front-lawn"},
        "target": {"crop": "tall-fescue-lawn", "area": {"value": 3200, "unit": "ft2"}},
        "site": {"region": "US-XX", "symptoms": ["yellowing_new_leaves"]},
        "sample": {"taken_on": "2026-04-18", "depth": {"top": 0, "bottom": 3, "unit": "in"}, "cores": 12},
        "tests": ["routine"],
        "question": "Why does it turn yellow?",
    },
    "changeSample": {"sample": {"taken_on": "2026-04-18", "cores": 15}, "question": None},
    "moveSample": {"status": "received"},
    "setFees": {"tests": {"routine": 2800, "salinity": 1200}, "unpaid_to_laboratory": False},
    "makeLink": {"days": 90},
    "makeRecall": {
        "reason": "The conductivity meter stood wrong.",
        "value": {"analyte": "EC", "low": 0.5, "high": 4, "unit": "dS/m"},
        "from": "2026-04-01",
    },
    "voidInterpretation": {"reason": "Posted under the wrong number."},
    "placeHold": {"object_kind": "organization", "object_id": "local", "reason": "A claim in court."},
    "recordRowCheck": ROW_CHECK,
    "createOrganization": OFFICE,
    "createKey": NEW_KEY,
    "rotateKey": {"old_expires_at": "2026-04-21T18:00:00-06:00"},
}


class Example(NamedTuple):
    """One operation: the name of its files, its operation id, method and address.

    ``keeps`` names the id of the answer, for ``{…}`` in later addresses; ``keyed`` is asked with an administrator's key
    of the programme, after which nothing is open any more. ``before`` makes what the example is about and names it.
    """

    name: str
    operation: str
    method: str
    address: str
    keeps: str = ""
    keyed: bool = False
    before: Callable[[Flask], dict[str, str]] | None = None


def _keyed(name: str, operation: str, method: str, address: str, keeps: str = "") -> Example:
    return Example(name, operation, method, f"/v1/{address}", keeps, keyed=True)


def held(app: Flask) -> dict[str, str]:
    """A report that the stopped class holds, and its case."""
    body = (FOLDER / "interpretations.request.json").read_bytes().replace(b"26-00101", b"26-00102")
    made = app.test_client().post(ADDRESS, data=body, content_type="application/json").json
    with app.extensions[OFFICE_OF].records.reading() as reading:
        return {"case": reading.reviews.of(made["id"]).id}


def wished(app: Flask) -> dict[str, str]:
    """A wish of somebody else's."""
    office, other = app.extensions[OFFICE_OF], OPEN_CALLER._replace(actor="another-reader")
    switching.switch(other, office, "stone_fruit.local", "shadow", "A trial.")
    return {"wish": switching.wish(other, office, "stone_fruit.local", "500 cases agreed.").id}


COUNTER = (
    Example("sample-new", "takeSample", "POST", "/v1/samples", keeps="sample"),
    Example("samples", "listSamples", "GET", "/v1/samples?status=expected"),
    Example("sample", "readSample", "GET", "/v1/samples/{sample}"),
    Example("sample-client", "readSampleClient", "GET", "/v1/samples/{sample}/client"),
    Example("sample-changed", "changeSample", "PATCH", "/v1/samples/{sample}"),
    Example("sample-moved", "moveSample", "POST", "/v1/samples/{sample}/status"),
    Example("sample-label", "printLabel", "GET", "/v1/samples/{sample}/label"),
    Example("sample-label-drawn", "drawLabel", "GET", "/v1/samples/{sample}/label.svg?language=en"),
    Example("sampling-plan", "readSamplingPlan", "GET", "/v1/sampling-plans?use=field&area=100&unit=acre&cv=50"),
)
CORRECTION = (
    Example("history", "readHistory", "GET", f"{ADDRESS}/{{id}}/history"),
    Example("link-new", "makeLink", "POST", f"{ADDRESS}/{{id}}/links", keeps="link"),
    Example("links", "listLinks", "GET", f"{ADDRESS}/{{id}}/links"),
    Example("link-revoked", "revokeLink", "DELETE", f"{ADDRESS}/{{id}}/links/{{link}}"),
    Example("recall-new", "makeRecall", "POST", "/v1/recalls", keeps="recall"),
    Example("recalls", "listRecalls", "GET", "/v1/recalls"),
    Example("recall-rows", "listRecallRows", "GET", "/v1/recalls/rows?table=classes"),
    Example("recall", "readRecall", "GET", "/v1/recalls/{recall}"),
    Example("recall-items", "listRecalled", "GET", "/v1/recalls/{recall}/items?limit=1"),
    Example("recall-held", "holdRecalled", "POST", "/v1/recalls/{recall}/hold"),
    Example("recall-lifted", "liftRecall", "POST", "/v1/recalls/{recall}/lift"),
    Example("recall-reissued", "reissueRecalled", "POST", "/v1/recalls/{recall}/reissue"),
    Example("void", "voidInterpretation", "POST", f"{ADDRESS}/{{id}}/void"),
    Example("standing", "readStanding", "GET", f"{ADDRESS}/{{id}}/standing"),
    Example("notices", "listNotices", "GET", "/v1/notices?limit=2"),
    Example("statistics", "readStatistics", "GET", "/v1/statistics?from=2026-04-01&to=2026-04-30"),
    Example("statistics-counties", "readCountyStatistics", "GET", "/v1/statistics/counties?year=2026"),
    Example("records", "exportRecords", "GET", "/v1/samples/{sample}/records"),
    Example("client-erased", "eraseClient", "DELETE", "/v1/samples/{sample}/client"),
    Example("hold-new", "placeHold", "POST", "/v1/legal-holds", keeps="hold"),
    Example("holds", "listHolds", "GET", "/v1/legal-holds"),
    Example("hold-lifted", "liftHold", "DELETE", "/v1/legal-holds/{hold}"),
)
CLASSES, TURF, DESK = "/v1/release-classes", "/v1/release-classes/cool_season_turf.local", "/v1/reviews"
OF_THE_DESK = (
    Example("release-class-paused", "pauseReleaseClass", "POST", f"{TURF}/pause"),
    Example("reviews", "listReviews", "GET", f"{DESK}?limit=2", before=held),
    Example("review", "readReview", "GET", f"{DESK}/{{case}}"),
    Example("review-claimed", "claimReview", "POST", f"{DESK}/{{case}}/claim"),
    Example("review-unclaimed", "unclaimReview", "DELETE", f"{DESK}/{{case}}/claim"),
    Example("review-decided", "decideReview", "POST", f"{DESK}/{{case}}/decision"),
    Example("phrases", "listPhrases", "GET", f"{DESK}/phrases"),
    Example("overrides", "listOverrides", "GET", f"{DESK}/overrides"),
    Example("release-class-resumed", "resumeReleaseClass", "POST", f"{TURF}/resume"),
    Example("release-class-reread", "setRereading", "POST", f"{TURF}/reread"),
    Example("release-class-shadow", "shadowReleaseClass", "POST", f"{TURF}/shadow"),
    Example("release-class-wish", "wishRelease", "POST", f"{TURF}/wishes"),
    Example("release-class", "readReleaseClass", "GET", TURF),
    Example(
        "release-class-approved",
        "approveRelease",
        "POST",
        f"{CLASSES}/stone_fruit.local/wishes/{{wish}}/approve",
        before=wished,
    ),
    Example("release-classes", "listReleaseClasses", "GET", CLASSES),
)
"""In open local mode somebody at the machine is reviewer too."""

EXAMPLES = (
    Example("trail-export", "exportTrail", "GET", "/v1/trail.ndjson"),  # of a chain that nothing was written to yet
    Example("interpretations", "interpret", "POST", ADDRESS, keeps="id"),
    Example("interpretations-list", "listInterpretations", "GET", f"{ADDRESS}?lab_number=26-00101"),
    Example("interpretation", "readInterpretation", "GET", f"{ADDRESS}/{{id}}"),
    Example("interpretation-text", "readInterpretationAsText", "GET", f"{ADDRESS}/{{id}}.txt"),
    Example("interpretation-calendar", "readInterpretationAsCalendar", "GET", f"{ADDRESS}/{{id}}.ics"),
    Example("interpretation-replay", "replayInterpretation", "GET", f"{ADDRESS}/{{id}}/replay"),
    Example("crops", "listCrops", "GET", "/v1/crops?q=festuca&language=es"),
    Example("crop", "readCrop", "GET", "/v1/crops/apple"),
    Example("crop-edition", "readCropEdition", "GET", "/v1/crops/apple/editions/2025-01-01"),
    Example("tables", "listTables", "GET", "/v1/tables"),
    Example("table-editions", "listTableEditions", "GET", "/v1/tables/classes/editions"),
    Example("table-edition", "readTableEdition", "GET", "/v1/tables/classes/editions/2025-01-01"),
    Example(
        "table-comparison",
        "compareTableEditions",
        "GET",
        "/v1/tables/classes/editions/compare?from=2025-01-01&to=2025-01-01",
    ),
    Example("row-checks", "listRowChecks", "GET", "/v1/tables/classes/editions/2025-01-01/checks"),
    Example("row-check-record", "recordRowCheck", "POST", "/v1/tables/classes/editions/2025-01-01/checks"),
    Example("table-comparison-short", "compareTable", "GET", "/v1/tables/units/compare?from=2025-01-01&to=2025-01-01"),
    Example("crop-comparison", "compareCrop", "GET", "/v1/crops/apple/compare?from=2025-01-01&to=2025-01-01"),
    Example("analytes", "listAnalytes", "GET", "/v1/analytes"),
    Example("methods", "listMethods", "GET", "/v1/methods"),
    Example("units", "listUnits", "GET", "/v1/units"),
    Example("words", "listWords", "GET", "/v1/words"),
    Example("materials", "listMaterials", "GET", "/v1/materials"),
    Example("sources", "listSources", "GET", "/v1/sources"),
    Example("alive", "alive", "GET", "/healthz"),
    Example("ready", "ready", "GET", "/readyz"),
    Example("contract", "contract", "GET", "/v1/openapi.json"),
    Example("problem", "explainProblem", "GET", "/problems/invalid-request"),
    *(Example(f"calculation-{name}", f"calculate_{name}", "POST", f"/v1/calculations/{name}") for name in CALCULATIONS),
    *OF_THE_DESK,
    *COUNTER,
    *CORRECTION,
    _keyed("organization-new", "createOrganization", "POST", "organizations"),
    _keyed("organizations", "listOrganizations", "GET", "organizations"),
    _keyed("organization", "readOrganization", "GET", "organizations/juniper-county"),
    _keyed("fees-set", "setFees", "PUT", "organizations/juniper-county/fees"),
    _keyed("fees", "readFees", "GET", "organizations/juniper-county/fees"),
    _keyed("key-new", "createKey", "POST", "keys", keeps="key"),
    _keyed("keys", "listKeys", "GET", "keys?limit=1"),
    _keyed("key", "readKey", "GET", "keys/{key}"),
    _keyed("key-rotated", "rotateKey", "POST", "keys/{key}/rotate"),
    _keyed("key-revoked", "revokeKey", "POST", "keys/{key}/revoke"),
    _keyed("trail", "listTrail", "GET", "trail?limit=1"),
    _keyed("organization-closed", "closeOrganization", "POST", "organizations/juniper-county/close"),
)


def run(folder: Path, office: Office) -> Iterator[tuple[Example, dict[str, Any]]]:
    """Every example in order on a fresh database: what it answered, shortened where it is a long list."""
    settings = Settings(data=folder)
    prepare(settings)
    store = Store(settings.database_url)
    spring = replace(office, catalog=written_in(folder, office.catalog), store=store, engine=ENGINE, now=lambda: MOMENT)
    yield from asked(create_app(settings, spring))
    store.close()


def written_in(folder: Path, catalog: Catalog) -> Catalog:
    """The same tables, the one whose rows an example checks in a folder that may be written."""
    table = catalog.tables["classes"]
    copied = replace(table, folder=Path(shutil.copytree(table.folder, folder / table.id)))
    tables = {**catalog.tables, table.id: copied}
    return Catalog(tables, catalog.crop_editions, catalog.sources, catalog.files, catalog.standing)


def asked(app: Flask) -> Iterator[tuple[Example, dict[str, Any]]]:
    """Every example in order; later ones read what the first one kept."""
    client, kept, shown = app.test_client(), {}, ""
    for example in EXAMPLES:
        if example.keyed:
            shown = shown or first_key(app)
        kept |= example.before(app) if example.before else {}
        headers = {"If-Match": "*"} if example.method in CHANGING else {}
        headers |= {"Authorization": f"Bearer {shown}"} if example.keyed else {}
        body = request_file(example).read_bytes() if example.method in SENDING else None
        address = example.address.format(**kept)
        answer = client.open(
            address, method=example.method, data=body, content_type="application/json", headers=headers
        )
        if example.keeps:
            kept[example.keeps] = answer.json["id"]
        plain = answer.text.replace(kept["id"], "{id}") if kept else answer.text  # an id differs from run to run
        plain = plain[:HEAD] if example.operation in DRAWN else plain
        yield example, {"status": answer.status_code, "body": shortened(answer.json) if answer.is_json else plain}


def first_key(app: Flask) -> str:
    """The key of the programme's administrator, as the command line makes it."""
    office = app.extensions[OFFICE_OF]
    organizations.create(COMMAND_LINE, office, "state", "programme", "State programme (invented)")
    return access_keys.create(COMMAND_LINE, office, "state", Wish("first", ("administrator",))).shown


def shortened(body: Any) -> Any:
    """Long lists of rows cut to their first two; the contract itself to its head."""
    if not isinstance(body, dict):
        return body
    if "openapi" in body:
        return {"openapi": body["openapi"], "info": body["info"]}
    cut = {name: rows[:SHOWN] for name, rows in body.items() if name in ("items", "rows", "sufficiency", "amounts")}
    return {**body, **cut} if all(isinstance(rows, list) for rows in cut.values()) else body


def comparable(tree: Any) -> Any:
    """The same without what differs from run to run."""
    if isinstance(tree, dict):
        return {name: comparable(value) for name, value in tree.items() if name not in VOLATILE}
    return [comparable(each) for each in tree] if isinstance(tree, list) else tree


def declared(example: Example) -> Any:
    """The request of an example: a body, the examples that a calculation's inputs declare, or method and address."""
    if example.method not in SENDING:
        return {"method": example.method, "address": example.address}
    name = example.address.rpartition("/")[2]
    if example.operation in BODIES or name not in CALCULATIONS:
        return BODIES.get(example.operation, {})
    inputs = CALCULATIONS[name].inputs
    return {given.name: given.example for given in inputs if given.example is not None}


def request_file(example: Example) -> Path:
    """The body of a POST, or method and address of a GET."""
    return FOLDER / f"{example.name}.request.json"


def answer_file(example: Example) -> Path:
    """Status and body."""
    return FOLDER / f"{example.name}.answer.json"


def main() -> int:
    """Write all examples anew."""
    pretty = orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE
    with tempfile.TemporaryDirectory() as folder:
        for example in EXAMPLES:
            if example.operation != "interpret":
                request_file(example).write_bytes(orjson.dumps(declared(example), option=pretty))
        for example, answer in run(Path(folder), make_office(Settings())):
            answer_file(example).write_bytes(orjson.dumps(answer, option=pretty))
    return 0


if __name__ == "__main__":
    sys.exit(main())
