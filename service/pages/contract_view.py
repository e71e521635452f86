"""The OpenAPI document as the documentation page shows it: addresses by group, shapes by name."""

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

import orjson

METHODS = ("get", "post", "put", "patch", "delete")
SHAPE_PREFIX = "#/components/schemas/"
UNTAGGED = "other"
type_of_json = Mapping[str, Any]


class Kind(NamedTuple):
    """What a value is: words, and the shape it follows (``""`` when it is a plain value)."""

    text: str
    shape: str
    words: tuple[str, ...] = ()


NO_BODY = Kind("", "")


class Field(NamedTuple):
    """One field of a shape, or one parameter of an address (``place``: path, query, header)."""

    name: str
    kind: Kind
    required: bool
    about: str
    place: str = ""


class Answer(NamedTuple):
    """One status an address can answer with."""

    status: str
    about: str
    kind: Kind
    example: str


class Operation(NamedTuple):
    """One method of one address."""

    id: str
    method: str
    path: str
    summary: str
    about: str
    parameters: tuple[Field, ...]
    body: Kind | None
    body_example: str
    answers: tuple[Answer, ...]


class Group(NamedTuple):
    """The addresses that share a tag."""

    name: str
    about: str
    operations: tuple[Operation, ...]


class Shape(NamedTuple):
    """One named schema."""

    name: str
    about: str
    kind: Kind
    fields: tuple[Field, ...]


def operations(contract: type_of_json) -> tuple[Group, ...]:
    """All addresses, grouped by their first tag, in the order the contract lists them."""
    groups: dict[str, list[Operation]] = {tag["name"]: [] for tag in contract.get("tags", ())}
    about = {tag["name"]: tag.get("description", "") for tag in contract.get("tags", ())}
    for path, item in contract.get("paths", {}).items():
        for method in METHODS:
            if method in item:
                tag = next(iter(item[method].get("tags", ())), UNTAGGED)
                groups.setdefault(tag, []).append(_operation(contract, path, method, item))
    return tuple(Group(name, about.get(name, ""), tuple(found)) for name, found in groups.items() if found)


def shapes(contract: type_of_json) -> tuple[Shape, ...]:
    """All named schemas, by name."""
    found = contract.get("components", {}).get("schemas", {})
    return tuple(_shape(name, found[name]) for name in sorted(found))


def kind_of(schema: type_of_json) -> Kind:
    """What a schema allows, in a few words."""
    if "$ref" in schema:
        name = str(schema["$ref"]).removeprefix(SHAPE_PREFIX)
        return Kind(name, name)
    for several in ("anyOf", "oneOf", "allOf"):
        if several in schema:
            return _several(schema[several])
    if "enum" in schema or "const" in schema:
        allowed = schema.get("enum", (schema.get("const"),))
        return Kind("one of", "", tuple("null" if word is None else str(word) for word in allowed))
    if "items" in schema:
        inner = kind_of(schema["items"])
        return Kind(f"list of {inner.text}", inner.shape, inner.words)
    return Kind(_plain(schema), "")


def _several(choices: Iterable[type_of_json]) -> Kind:
    kinds = [kind_of(choice) for choice in choices]
    shape = next((kind.shape for kind in kinds if kind.shape), "")
    words = tuple(word for kind in kinds for word in kind.words)
    return Kind(" or ".join(dict.fromkeys(kind.text for kind in kinds)), shape, words)


def _plain(schema: type_of_json) -> str:
    listed = schema.get("type", "any value")
    name = listed if isinstance(listed, str) else " or ".join(listed)
    if "format" in schema:
        name = f"{name} ({schema['format']})"
    signs = {"minimum": "≥", "exclusiveMinimum": ">", "maximum": "≤", "exclusiveMaximum": "<"}
    bounds = [f"{sign} {schema[key]}" for key, sign in signs.items() if not isinstance(schema.get(key), bool | None)]
    bounds += ["not empty"] if schema.get("minLength") else []
    bounds += [f"at most {schema['maxLength']} characters"] if "maxLength" in schema else []
    return f"{name}, {', '.join(bounds)}" if bounds else name


def _operation(contract: type_of_json, path: str, method: str, item: type_of_json) -> Operation:
    operation = item[method]
    parameters = [_resolved(contract, one) for one in (*item.get("parameters", ()), *operation.get("parameters", ()))]
    body = _resolved(contract, operation.get("requestBody", {}))
    content = _content(body)
    return Operation(
        id=operation.get("operationId") or f"{method}-{path.strip('/').replace('/', '-') or 'root'}",
        method=method.upper(),
        path=path,
        summary=operation.get("summary", ""),
        about=operation.get("description", ""),
        parameters=tuple(_parameter(parameter) for parameter in parameters),
        body=kind_of(content.get("schema", {})) if body else None,
        body_example=_example(content),
        answers=tuple(
            _answer(contract, str(status), found) for status, found in operation.get("responses", {}).items()
        ),
    )


def _parameter(parameter: type_of_json) -> Field:
    kind = kind_of(parameter.get("schema", {}))
    required = bool(parameter.get("required"))
    return Field(parameter.get("name", ""), kind, required, parameter.get("description", ""), parameter.get("in", ""))


def _answer(contract: type_of_json, status: str, response: type_of_json) -> Answer:
    found = _resolved(contract, response)
    content = _content(found)
    kind = kind_of(content["schema"]) if "schema" in content else NO_BODY
    return Answer(status, found.get("description", ""), kind, _example(content))


def _shape(name: str, schema: type_of_json) -> Shape:
    required = set(schema.get("required", ()))
    fields = tuple(
        Field(key, kind_of(value), key in required, value.get("description") or value.get("title") or "")
        for key, value in schema.get("properties", {}).items()
    )
    return Shape(name, schema.get("description", ""), kind_of(schema), fields)


def _content(found: type_of_json) -> type_of_json:
    """The first medium of a body or an answer; JSON where it is offered."""
    media = found.get("content") or {}
    return media.get("application/json") or next(iter(media.values()), {})


def _example(content: type_of_json) -> str:
    example = content.get("example")
    if example is None:
        example = next((named.get("value") for named in (content.get("examples") or {}).values()), None)
    if example is None:
        return ""
    return example if isinstance(example, str) else orjson.dumps(example, option=orjson.OPT_INDENT_2).decode()


def _resolved(contract: type_of_json, item: type_of_json) -> type_of_json:
    """What a local reference points to; the item itself when it is none."""
    target: Any = contract
    for segment in str(item.get("$ref", "")).removeprefix("#/").split("/"):
        if "$ref" not in item:
            return item
        target = target.get(segment.replace("~1", "/").replace("~0", "~"), {})
    return target  # type: ignore[no-any-return]
