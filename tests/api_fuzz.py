"""Requests made of an API's own schema, from a seed: fit ones, nearly fit ones, hostile ones."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

HOSTILE: tuple[Any, ...] = (
    "",
    " ",
    "\x00",
    "a\x00b",
    "../../etc/passwd",
    "..%2f..",
    "'; DROP TABLE readings; --",
    "<script>alert(1)</script>",
    "{reader}",
    "{{ 7 * 7 }}",
    "%s%n",
    "é𝄞\u202e",
    "\ud800",
    "x" * 5_000,
    None,
    True,
    -1,
    0,
    10**40,
    1e308,
    -0.0,
    [],
    {},
    [[[]]],
    "2026-02-30",
    "0001-01-01",
    "9999-12-31T23:59:59-23:59",
    "24:00",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One thing that a path does."""

    path: str
    method: str
    parameters: tuple[Mapping[str, Any], ...]
    body: Mapping[str, Any] | None
    responses: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class FuzzRequest:
    """A request to send."""

    operation: Operation
    url: str
    query: dict[str, str]
    json: Any


def operations_of(schema: Mapping[str, Any]) -> list[Operation]:
    """List what a schema describes."""
    return [
        Operation(
            path=path,
            method=method.upper(),
            parameters=tuple(told.get("parameters", ())),
            body=(told.get("requestBody") or {})
            .get("content", {})
            .get("application/json", {})
            .get("schema"),
            responses=told["responses"],
        )
        for path, methods in schema["paths"].items()
        for method, told in methods.items()
    ]


def requests_of(
    schema: Mapping[str, Any], known: Mapping[str, Sequence[Any]], seed: int, rounds: int
) -> Iterator[FuzzRequest]:
    """Give requests, each operation once a round.

    Parameters
    ----------
    known : mapping
        Values that fit, by the name of a body or a member, or ``collection/{name}`` of a path;
        chosen more often than not. What is added to it meanwhile counts.
    """
    draw = random.Random(seed)
    operations = operations_of(schema)
    for _ in range(rounds):
        for operation in operations:
            url, query = operation.path, {}
            for parameter in operation.parameters:
                name = parameter["name"]
                is_path = parameter["in"] == "path"
                found = collection_of(operation.path, name) if is_path else name
                value = _value(parameter["schema"], schema, known, draw, found)
                if is_path:
                    text = quote(str(value), safe="", errors="surrogatepass") or "%20"
                    url = url.replace(f"{{{name}}}", text)
                elif draw.random() < 0.4:
                    query[name] = str(value).encode("utf-8", "replace").decode()
            body = operation.body
            yield FuzzRequest(
                operation=operation,
                url=url,
                query=query,
                json=None if body is None else _body(body, schema, known, draw),
            )


def _body(
    kind: Mapping[str, Any],
    schema: Mapping[str, Any],
    known: Mapping[str, Sequence[Any]],
    draw: random.Random,
) -> Any:
    name = kind.get("$ref", "").rpartition("/")[2]
    if name in known and draw.random() < 0.5:
        return draw.choice(known[name])
    return _value(kind, schema, known, draw, "")


def collection_of(path: str, name: str) -> str:
    """Name what a parameter of a path is chosen from.

    Examples
    --------
    >>> collection_of("/plan/readers/{name}/links/{sha256}", "sha256")
    'links/{sha256}'
    """
    before, _, _ = path.partition(f"/{{{name}}}")
    return f"{before.rpartition('/')[2]}/{{{name}}}"


def _value(
    kind: Mapping[str, Any],
    schema: Mapping[str, Any],
    known: Mapping[str, Sequence[Any]],
    draw: random.Random,
    name: str,
) -> Any:
    if draw.random() < 0.04:
        return draw.choice(HOSTILE)
    if name in known and known[name] and draw.random() < 0.8:
        return draw.choice(known[name])
    if "$ref" in kind:
        kind = schema["components"]["schemas"][kind["$ref"].rpartition("/")[2]]
    if "anyOf" in kind:
        return _value(draw.choice(kind["anyOf"]), schema, known, draw, name)
    if "const" in kind:
        return kind["const"]
    if "enum" in kind:
        return draw.choice(kind["enum"])
    return _plain(kind, schema, known, draw, name)


def _plain(
    kind: Mapping[str, Any],
    schema: Mapping[str, Any],
    known: Mapping[str, Sequence[Any]],
    draw: random.Random,
    name: str,
) -> Any:
    match kind.get("type"):
        case "object":
            needed = kind.get("required", ())
            made = {
                key: _value(member, schema, known, draw, key)
                for key, member in kind["properties"].items()
                if (key in needed and draw.random() > 0.02) or draw.random() < 0.5
            }
            return made | ({"unknown": 1} if draw.random() < 0.02 else {})
        case "array":
            items = kind.get("items", {})
            return [_value(items, schema, known, draw, name) for _ in range(draw.randrange(3))]
        case "integer":
            return draw.choice([0, 1, 1, 2, 6, 30, 2019])
        case "number":
            return draw.choice([0.0, 1.5, 1620.0, 1680.0, 1800.0, 3600.0])
        case "boolean":
            return draw.random() < 0.5
        case "null":
            return None
        case _:
            return _text(kind.get("format"), draw)


def _text(form: str | None, draw: random.Random) -> str:
    if form == "date":
        return f"2026-11-{draw.randrange(1, 31):02d}"
    if form == "date-time":
        return f"2026-11-{draw.randrange(1, 31):02d}T{draw.randrange(24):02d}:30:00+01:00"
    if form == "time":
        return f"{draw.randrange(24):02d}:{draw.choice(['00', '30'])}:00"
    return draw.choice(["Noa", "Field notes", "four quiet leaves fall", "x-7", "Łucja Weir"])
