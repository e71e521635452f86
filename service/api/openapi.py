"""The published contract: made by flask-smorest from the schemas, finished here where its generator falls short."""

from collections.abc import Iterator
from typing import Any

from flask import Flask

import service
from service.agronomy.tables import Library
from service.api.endpoint import HEADERS, SAID, SCOPE
from service.api.problems import ProblemApi
from service.contract.fields import Choice
from service.contract.problem import MEDIA_TYPE
from service.contract.vocabulary import Vocabulary
from service.desk.rights import OPEN_SCOPES, PUBLISHABLE, ROLES_OF

VERSION = "3.1.0"
ABOUT = (
    "Interprets soil tests of lawns, gardens, fields and trees on alkaline, limy, often salty soils. "
    "Fields named here keep their name, type and meaning; more may be added to answers. "
    "Unknown fields of requests are refused. Errors are problem documents (RFC 9457) with JSON pointers."
)
ERROR = {
    "description": "A problem document.",
    "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
}

KEY = {
    "type": "http",
    "scheme": "bearer",
    "bearerFormat": "sb_<prefix>_<secret>",
    "description": "A key of an organization. Until the first key is made, programs on the same machine need none.",
}


def make_api(app: Flask, library: Library) -> ProblemApi:
    """flask-smorest on the application; word lists come from the library."""
    app.config.update(
        API_TITLE="Saltbush",
        API_VERSION="v1",
        OPENAPI_VERSION=VERSION,
        API_SPEC_OPTIONS={
            "info": {"description": ABOUT, "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"}},
        },
    )
    api = ProblemApi(app)
    known = library.index(Vocabulary)

    def closed_list(_: Any, field: Any, **__: Any) -> dict[str, Any]:
        if not isinstance(field, Choice):
            return {}
        words = list(field.words(known))
        return {"enum": [*words, None] if field.allow_none else words}

    api.ma_plugin.converter.add_attribute_function(closed_list)
    return api


def contract(api: ProblemApi) -> dict[str, Any]:
    """The finished OpenAPI document."""
    spec: dict[str, Any] = api.spec.to_dict()
    spec["info"]["version"] = service.__version__
    for operation in _operations(spec):
        _finish(operation)
    described = {**ERROR, "description": "Fields are at fault; each is named with what would be right."}
    spec["components"]["responses"] = {"Invalid": described, "Problem": ERROR}
    shapes = spec["components"]["schemas"]
    for (shape, *_), name in api.ma_plugin.converter.refs.items():
        shapes[name]["description"] = (shape.__doc__ or "").strip().partition("\n")[0]
    shapes.pop("PaginationMetadata", None)
    spec["components"]["schemas"] = dict(sorted(shapes.items()))
    spec["components"]["securitySchemes"] = {"key": KEY}
    return spec


def _finish(operation: dict[str, Any]) -> None:
    """Errors as problem documents, header parameters beside those of the query, statuses in order."""
    operation["parameters"] = [*operation.get("parameters", ()), *operation.pop(HEADERS, ())]
    responses = operation["responses"]
    responses["422"] = {"$ref": "#/components/responses/Invalid"}
    responses["default"] = {"$ref": "#/components/responses/Problem"}
    _secure(operation, operation.pop(SCOPE))
    operation["responses"] = dict(sorted(responses.items()))


def _secure(operation: dict[str, Any], scope: str) -> None:
    """Say which scope an operation demands and who holds it."""
    if scope in OPEN_SCOPES:
        said, operation["security"] = f"Scope: {scope}, open to all.", []
    else:
        roles = ", ".join(sorted(ROLES_OF[scope]))
        said = f"Scope: {scope}, held by {roles}{'; publishable keys too' if scope in PUBLISHABLE else ''}."
        operation["security"] = [{"key": [scope]}]
        for status in (401, 403):
            operation["responses"][str(status)] = {**ERROR, "description": SAID[status]}
    operation["description"] = "\n\n".join(filter(None, (operation.get("description", "").strip(), said)))


def _operations(spec: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for path in spec["paths"].values():
        for method, operation in path.items():
            if method in ("get", "post", "put", "patch", "delete"):
                yield operation
