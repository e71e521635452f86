"""Every route by every caller: the routes come from the application, the expectations from the tables below.

A route without a row here fails. OWASP API Security Top 10 (2023), API1 and API5: object and function level
authorization, default deny, the same answer for an unknown and a foreign id.
"""

import re
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

import orjson
import pytest
from access_cases import LOOSE, OTHER, OWN, ROLES, House, house_in
from examples import FOLDER

from service.agronomy.calculations import CALCULATIONS
from service.desk import access_keys, organizations, switching
from service.desk.access_keys import COMMAND_LINE, Wish
from service.desk.callers import Caller

OPEN = ("about", "read_library", "open_link")
HOLDERS = {
    "interpret": "submitter agent reviewer administrator",
    "read_reports": "submitter agent reviewer administrator",
    "calculate": "submitter agent reviewer table_signer administrator",
    "submit_samples": "submitter agent",
    "manage_samples": "agent administrator",
    "read_samples": "submitter agent reviewer administrator",
    "manage_office": "administrator",
    "review": "reviewer",
    "switch_classes": "reviewer administrator",
    "approve_class": "reviewer",
    "statistics": "agent reviewer administrator",
    "sign_tables": "table_signer",
    "share_links": "agent reviewer",
    "void": "agent reviewer",
    "recall": "reviewer administrator",
    "privacy": "administrator",
    "read_trail": "administrator",
    "manage_keys": "administrator",
    "manage_organizations": "administrator",
}
"""Who holds what, as the desk's rules of rights have it; written here a second time so that a slip there shows."""
PAGES_MAY = ("interpret", "submit_samples")
SANDBOX_MAY_NOT = ("manage_keys", "manage_organizations", "sign_tables")
PROGRAMME_ONLY = ("manage_organizations",)
ENDED = ("no key", "revoked", "expired", "closed")
CALLERS = (
    *ENDED,
    "publishable",
    "sandbox",
    "laboratory",
    *(f"{whose} {role}" for whose in ("own", "other", "programme") for role in ROLES),
)
PARAMETER = re.compile(r"<[^>]+>")
UNKNOWN = "00000000-0000-4000-8000-000000000000"
LONG = "no-such-organization"


class Row(NamedTuple):
    """What a route demands, and a request that is right: ``target`` makes what its first parameter names."""

    scope: str
    status: int = 200
    body: Any = None
    values: dict[str, str] = {}  # noqa: RUF012
    target: Callable[[House], tuple[str, ...]] | None = None
    headers: dict[str, str] = {}  # noqa: RUF012


def report(house: House) -> tuple[str]:
    return (house.posted(),)


def link(house: House) -> tuple[str, str]:
    """A report with an address for its client."""
    name = house.posted()
    return name, house.send("own agent", "POST", f"/v1/interpretations/{name}/links", {}).json["id"]


def hold(house: House) -> tuple[str]:
    body = {"object_kind": "interpretation", "object_id": house.posted(), "reason": "a claim in court"}
    return (house.send("own administrator", "POST", "/v1/legal-holds", body).json["id"],)


def recalled(house: House) -> tuple[str]:
    body = {"reason": "a test of who may", "crop": "apple"}
    return (house.send("own reviewer", "POST", "/v1/recalls", body).json["id"],)


def case(house: House) -> tuple[str]:
    """The case of a report that is held, since the office's classes stand in the shadow."""
    with house.office.records.reading() as reading:
        return (reading.reviews.of(house.posted()).id,)


def key(house: House) -> tuple[str]:
    return (access_keys.create(COMMAND_LINE, house.office, OWN, Wish("target", ("agent",))).key.id,)


def office(_: House) -> tuple[str]:
    return (OWN,)


def sample(house: House) -> tuple[str]:
    """A sample whose fee is nobody's concern, at the version that a change asks for with any ETag."""
    return (house.send("own agent", "POST", "/v1/samples", {"use": "lawn"}).json["id"],)


def new_office(house: House) -> tuple[str]:
    """One more office; only the programme has it in sight."""
    return (organizations.create(COMMAND_LINE, house.office, f"office-{next(house.counter)}", "app", "An app").id,)


def switch(_: House) -> tuple[str]:
    """A class that no report here is of."""
    return (f"stone_fruit.{OWN}",)


def stopped(house: House) -> tuple[str]:
    switching.switch(COMMAND_LINE, house.office, *switch(house), "paused", "to be resumed")
    return switch(house)


def unasked(house: House) -> tuple[str]:
    """A class in the shadow whose wishes are decided."""
    name = switch(house)[0]
    switching.switch(COMMAND_LINE, house.office, name, "shadow", "to be asked for")
    for wish in switching.one(COMMAND_LINE, house.office, name).wishes:
        switching.approve(Caller("local", "local", frozenset(ROLES), "decides"), house.office, name, wish.id)
    switching.switch(COMMAND_LINE, house.office, name, "shadow", "to be asked for")
    return (name,)


def asked(house: House) -> tuple[str, str]:
    """Such a class with a wish of somebody else's."""
    name = unasked(house)[0]
    return name, switching.wish(COMMAND_LINE, house.office, name, "to be approved").id


def free_id(house: House) -> dict[str, str]:
    return {"id": f"office-{next(house.counter)}", "kind": "app", "name": "An app (invented)"}


WHY = {"reason": "a test of who may"}
ANY_STATE = {"If-Match": "*"}
LIBRARY, ABOUT = Row("read_library"), Row("about")
TABLE = {"id": "classes", "edition": "2025-01-01"}
SPAN = "from=2025-01-01&to=2025-01-01"
ROWS: dict[str, Row] = {
    "GET /": LIBRARY,
    "GET /assets/<path:filename>": LIBRARY._replace(values={"filename": "saltbush.css"}),
    "GET /demo/<name>.json": LIBRARY._replace(values={"name": "01-ordinary-lawn"}),
    "GET /docs": LIBRARY,
    "GET /docs/<name>": LIBRARY._replace(values={"name": "keys"}),
    "GET /docs/agronomy": LIBRARY,
    "GET /docs/shapes": LIBRARY,
    "GET /docs/shapes/<name>": LIBRARY._replace(values={"name": "Submission"}),
    "GET /library": LIBRARY,
    "GET /library/compare": LIBRARY,
    "GET /library/crops/<crop>": LIBRARY._replace(values={"crop": "apple"}),
    "GET /library/materials": LIBRARY,
    "GET /library/tables": LIBRARY,
    "GET /library/unchecked": LIBRARY,
    "GET /library/tables/<table>": LIBRARY._replace(values={"table": "classes"}),
    "GET /sampling-plan": LIBRARY,
    "GET /words/<language>.json": LIBRARY._replace(values={"language": "en"}),
    "GET /r/<token>": Row("open_link", 404, values={"token": UNKNOWN}),
    "GET /healthz": ABOUT,
    "GET /readyz": ABOUT,
    "GET /v1/openapi.json": ABOUT,
    "GET /problems/<kind>": ABOUT._replace(values={"kind": "conflict"}),
    "GET /v1/analytes": LIBRARY,
    "GET /v1/crops": LIBRARY,
    "GET /v1/crops/<crop>": LIBRARY._replace(values={"crop": "apple"}),
    "GET /v1/crops/<crop>/compare": LIBRARY._replace(values={"crop": "apple", "?": SPAN}),
    "GET /v1/crops/<crop>/editions/<edition>": LIBRARY._replace(values={"crop": "apple", "edition": "2025-01-01"}),
    "GET /v1/materials": LIBRARY,
    "GET /v1/methods": LIBRARY,
    "GET /v1/sampling-plans": LIBRARY._replace(values={"?": "use=lawn"}),
    "GET /v1/sources": LIBRARY,
    "GET /v1/tables": LIBRARY,
    "GET /v1/tables/<id>/compare": LIBRARY._replace(values={"id": "classes", "?": SPAN}),
    "GET /v1/tables/<id>/editions": LIBRARY._replace(values=TABLE),
    "GET /v1/tables/<id>/editions/<edition>": LIBRARY._replace(values=TABLE),
    "GET /v1/tables/<id>/editions/<edition>/checks": LIBRARY._replace(values=TABLE),
    "GET /v1/tables/<id>/editions/compare": LIBRARY._replace(values={"id": "classes", "?": SPAN}),
    "GET /v1/units": LIBRARY,
    "GET /v1/words": LIBRARY,
    "POST /v1/interpretations": Row("interpret", 201, LOOSE),
    "GET /v1/interpretations": Row("read_reports"),
    "GET /v1/interpretations/<id>": Row("read_reports", target=report),
    "GET /v1/interpretations/<id>.ics": Row("read_reports", target=report),
    "GET /v1/interpretations/<id>.txt": Row("read_reports", target=report),
    "GET /v1/interpretations/<id>/replay": Row("read_reports", target=report),
    "POST /v1/keys": Row("manage_keys", 201, {"label": "one more", "roles": ["agent"]}),
    "GET /v1/keys": Row("manage_keys"),
    "GET /v1/keys/<id>": Row("manage_keys", target=key),
    "POST /v1/keys/<id>/revoke": Row("manage_keys", target=key),
    "POST /v1/keys/<id>/rotate": Row("manage_keys", 201, {}, target=key),
    "POST /v1/organizations": Row("manage_organizations", 201, free_id),
    "GET /v1/organizations": Row("manage_keys"),
    "GET /v1/organizations/<id>": Row("manage_keys", target=office),
    "POST /v1/organizations/<id>/close": Row("manage_organizations", target=new_office),
    "GET /v1/release-classes": Row("statistics"),
    "GET /v1/release-classes/<id>": Row("statistics", target=switch),
    "POST /v1/release-classes/<id>/pause": Row("switch_classes", body=WHY, target=switch),
    "POST /v1/release-classes/<id>/reread": Row("switch_classes", body={**WHY, "share_pct": 5}, target=switch),
    "POST /v1/release-classes/<id>/resume": Row("switch_classes", body=WHY, target=stopped),
    "POST /v1/release-classes/<id>/shadow": Row("switch_classes", body=WHY, target=switch),
    "POST /v1/release-classes/<id>/wishes": Row("approve_class", 201, WHY, target=unasked),
    "POST /v1/release-classes/<id>/wishes/<wish_id>/approve": Row("approve_class", target=asked),
    "GET /v1/reviews": Row("review"),
    "GET /v1/reviews/overrides": Row("review"),
    "GET /v1/reviews/phrases": Row("review"),
    "GET /v1/reviews/<id>": Row("review", target=case),
    "POST /v1/reviews/<id>/claim": Row("review", target=case),
    "DELETE /v1/reviews/<id>/claim": Row("review", target=case),
    "POST /v1/reviews/<id>/decision": Row("review", body={"decision": "approve"}, target=case),
    "POST /v1/samples": Row("submit_samples", 201, {"use": "lawn"}),
    "GET /v1/samples": Row("read_samples"),
    "GET /v1/samples/<id>": Row("read_samples", target=sample),
    "GET /v1/samples/<id>/client": Row("manage_samples", target=sample),
    "GET /v1/samples/<id>/label": Row("read_samples", target=sample),
    "GET /v1/samples/<id>/label.svg": Row("read_samples", target=sample),
    "PATCH /v1/samples/<id>": Row("manage_samples", body={"use": "garden"}, target=sample, headers=ANY_STATE),
    "POST /v1/samples/<id>/status": Row("manage_samples", body={"status": "received"}, target=sample),
    "GET /v1/organizations/<id>/fees": Row("read_samples", target=office),
    "PUT /v1/organizations/<id>/fees": Row("manage_office", body={"tests": {}}, target=office, headers=ANY_STATE),
    "GET /v1/interpretations/<id>/history": Row("read_reports", target=report),
    "GET /v1/interpretations/<id>/standing": Row("read_reports", target=report),
    "POST /v1/interpretations/<id>/void": Row("void", body=WHY, target=report),
    "POST /v1/interpretations/<id>/links": Row("share_links", 201, {}, target=report),
    "GET /v1/interpretations/<id>/links": Row("share_links", target=report),
    "DELETE /v1/interpretations/<id>/links/<link_id>": Row("share_links", target=link),
    "GET /v1/notices": Row("read_reports"),
    "GET /v1/statistics": Row("statistics"),
    "GET /v1/statistics/counties": Row("statistics"),
    "POST /v1/recalls": Row("recall", 201, {**WHY, "crop": "apple"}),
    "GET /v1/recalls": Row("recall"),
    "GET /v1/recalls/rows": Row("recall", values={"?": "table=classes"}),
    "GET /v1/recalls/<id>": Row("recall", target=recalled),
    "GET /v1/recalls/<id>/items": Row("recall", target=recalled),
    "POST /v1/recalls/<id>/hold": Row("recall", target=recalled),
    "POST /v1/recalls/<id>/lift": Row("recall", target=recalled),
    "POST /v1/recalls/<id>/reissue": Row("recall", target=recalled),
    "DELETE /v1/samples/<id>/client": Row("privacy", target=sample),
    "GET /v1/samples/<id>/records": Row("privacy", target=sample),
    "POST /v1/legal-holds": Row("privacy", 404, {**WHY, "object_kind": "interpretation", "object_id": UNKNOWN}),
    "GET /v1/legal-holds": Row("privacy"),
    "DELETE /v1/legal-holds/<id>": Row("privacy", target=hold),
    "GET /v1/trail": Row("read_trail"),
    "GET /v1/trail.ndjson": Row("read_trail"),
    "POST /v1/tables/<id>/editions/<edition>/checks": Row("sign_tables", 422, {}, TABLE),
    **{
        f"POST /v1/calculations/{name}": Row(
            "calculate", body=orjson.loads((FOLDER / f"calculation-{name}.request.json").read_bytes())
        )
        for name in CALCULATIONS
    },
}


@pytest.fixture(scope="module")
def house(tmp_path_factory, office_of_all) -> Iterator[House]:
    with house_in(tmp_path_factory.mktemp("house"), office_of_all) as made:
        yield made


def routes(house: House) -> set[str]:
    return {
        f"{method} {rule.rule}"
        for rule in house.app.url_map.iter_rules()
        for method in rule.methods - {"HEAD", "OPTIONS"}
    }


def test_every_route_has_a_row_and_every_row_a_route(house):
    """A new route needs a row above: its scope, a request that is right, and what its id names."""
    assert set(ROWS) == routes(house)


def test_every_route_that_names_something_of_an_organization_has_a_target():
    assert [
        route
        for route, row in ROWS.items()
        if row.scope not in OPEN and "<" in route and not row.target and not row.values
    ] == []


def through(scope: str, who: str) -> int:
    """0 where the door lets this caller through, else the status of the refusal."""
    if scope in OPEN:
        return 0
    if who in ENDED:
        return 401
    if who == "publishable":
        return 0 if scope in PAGES_MAY else 403
    if who == "sandbox":
        return 403 if scope in SANDBOX_MAY_NOT else 0
    whose, _, role = who.partition(" ")
    if scope in PROGRAMME_ONLY and whose != "programme":
        return 403
    return 0 if (role or "submitter") in HOLDERS[scope].split() else 403


def sees(who: str) -> bool:
    """Whether what belongs to the own office is in sight."""
    whose, _, role = who.partition(" ")
    return whose == "own" or (whose == "programme" and role != "submitter")


def address(route: str, row: Row, named: tuple[str, ...]) -> str:
    path = route.partition(" ")[2]
    for name, value in row.values.items():
        for form in (f"<{name}>", f"<path:{name}>"):
            path = path.replace(form, value)
    for found, name in zip(PARAMETER.findall(path), named, strict=True):
        path = path.replace(found, name, 1)
    return f"{path}?{row.values['?']}" if "?" in row.values else path


@pytest.mark.parametrize("route", sorted(ROWS))
def test_every_caller_gets_what_the_tables_say(house, route):
    row, method = ROWS[route], route.partition(" ")[0]
    found = {}
    wanted = {}
    for who in CALLERS:
        body = row.body(house) if callable(row.body) else row.body
        named = row.target(house) if row.target else ()
        answer = house.send(who, method, address(route, row, named), body, headers=row.headers)
        found[who] = answer.status_code
        refused = through(row.scope, who)
        wanted[who] = refused or (row.status if row.target is None or sees(who) else 404)
        if refused == 401:
            assert answer.headers["WWW-Authenticate"].startswith("Bearer ")
            assert answer.json["type"] == "/problems/unauthorized"
        if refused == 403:
            assert f'error="insufficient_scope", scope="{row.scope}"' in answer.headers["WWW-Authenticate"]
            assert answer.json["scope"] == row.scope
        if row.target and not refused and not sees(who):
            unknown = house.send(who, method, address(route, row, (UNKNOWN, *named[1:])), body, headers=row.headers)
            assert (unknown.status_code, unknown.data) == (404, answer.data)
            assert [*unknown.headers] == [*answer.headers]
    assert found == wanted


def test_in_open_local_mode_nobody_needs_a_key_and_none_is_made(client):
    for route, row in ROWS.items():
        if row.target or callable(row.body):
            continue
        method, wanted = route.partition(" ")[0], 403 if row.scope.startswith("manage_") else row.status
        with client.open(address(route, row, ()), method=method, json=row.body) as answer:
            assert (route, answer.status_code) == (route, wanted)


def test_the_contract_says_for_each_operation_what_the_table_says(house):
    spec = house.client.get("/v1/openapi.json").json
    assert spec["components"]["securitySchemes"]["key"]["scheme"] == "bearer"
    for path, node in spec["paths"].items():
        for method, operation in node.items():
            if method == "parameters":
                continue
            row = ROWS[f"{method.upper()} {path.replace('{', '<').replace('}', '>')}"]
            assert f"Scope: {row.scope}," in operation["description"]
            assert operation["security"] == ([] if row.scope in OPEN else [{"key": [row.scope]}])


def test_lists_hold_what_is_in_sight_and_no_more(house):
    own, other, sandbox = house.posted(), house.posted("other submitter"), house.posted("sandbox")

    def listed(who: str) -> set[str]:
        items = house.send(who, "GET", "/v1/interpretations?limit=3").json["items"]
        return {item["id"] for item in items} & {own, other, sandbox}

    assert listed("own agent") == {own}
    assert listed("other agent") == {other}
    assert listed("sandbox") == {sandbox}
    assert listed("programme agent") == {own, other}
    assert listed("laboratory") == listed("programme submitter") == set()


def test_nobody_makes_keys_for_another_organization(house):
    wish = {"label": "stolen", "roles": ["agent"], "organization": OTHER}
    foreign = house.send("own administrator", "POST", "/v1/keys", wish)
    unknown = house.send("own administrator", "POST", "/v1/keys", {**wish, "organization": LONG})
    assert (foreign.status_code, foreign.data) == (422, unknown.data)
    assert house.send("programme administrator", "POST", "/v1/keys", wish).json["organization"] == OTHER
