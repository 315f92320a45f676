"""The API's own description, OpenAPI 3.1, made from the calculations themselves.

A request's keys are those that a calculation reads while it answers the examples; an answer's
keys are the fields of its dataclass, with their types. So neither can say what the code does not.
"""

from __future__ import annotations

import re
import types
from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints, is_typeddict

from fieldkit.engine.words import Figure, Span, Text
from fieldkit.engine.working import Answer
from fieldkit.flows.calculations import CALCULATIONS, calculation
from fieldkit.flows.trade_names import known_as
from fieldkit.tables.diagnosis import options, questions
from fieldkit.typed import answers
from fieldkit.typed.request import D, Request, T
from fieldkit.web.pages.api_examples import EXAMPLES

Schema = dict[str, Any]

_PLACE = re.compile(r"\[\d+\]")
_OBJECT: Schema = {"type": "object"}
_ROWS: Schema = {"type": "array"}
#: What ``Answer.as_json`` may add to the fields.
_SAID: Schema = {
    "type": "object",
    "description": "Sentences that hold figures, each with its template and its parts.",
}
_ONE_VALUE: Schema = {"type": ["string", "number", "boolean", "null"]}


# ── What a request may hold ──────────────────────────────────────────────────────────────────


def quantity_schema(
    unit: str, *, at_least: float | None = None, at_most: float | None = None
) -> Schema:
    """A quantity as a person types it, or a bare number in ``unit``.

    Examples
    --------
    >>> quantity_schema("in", at_least=0.1)["description"]
    'As a person types it, such as 0.700 in; a bare number is taken as in. 0.1 or more.'
    """
    example = answers.EXAMPLES.get(unit, f"1 {unit}".strip())
    said = f"As a person types it, such as {example}"
    said += f"; a bare number is taken as {unit}." if unit else "."
    said += "" if at_least is None else f" {at_least:g} or more."
    said += "" if at_most is None else f" {at_most:g} or less."
    return {"type": ["string", "number"], "description": said}


#: How a value is described, by what reads it and the limits it is read within.
_READ_AS: Mapping[Callable[..., Any], Callable[..., Schema]] = {
    answers.read_quantity: quantity_schema,
    answers.read_choice: lambda options: {"type": "string", "enum": list(options)},
    known_as: lambda known, offered: {"type": "string", "enum": list(known)},
    answers.read_flag: lambda: {
        "type": ["boolean", "string"],
        "description": "True or false; yes and no are understood, too.",
    },
    answers.read_whole: lambda at_least, at_most: {
        "type": ["integer", "string"],
        "description": f"A whole number from {at_least} to {at_most}.",
    },
    answers.read_text: lambda limit: {"type": "string", "maxLength": limit},
    answers.read_nominal: lambda: {
        "type": ["string", "number"],
        "description": "A trade size, such as 1/2, 1-1/4 or 25 mm.",
    },
    answers.read_pipe_class: lambda: {
        "type": ["string", "number"],
        "description": "The class as printed, such as Sch 40, SDR 21, Class 200 or SIDR 15.",
    },
}


class KeysRead(Request):
    """A request that keeps how each of its keys was read: dotted name → schema."""

    def __init__(self, body: object, path: str = "", keys: dict[str, Schema] | None = None) -> None:
        self.keys: dict[str, Schema] = {} if keys is None else keys
        super().__init__(body, path)

    def inside(self, body: object, path: str) -> Request:
        """The request that reads an object within this one."""
        return KeysRead(body, path, self.keys)

    def raw(self, key: str) -> object:
        """What was sent for ``key``, read in a way of the calculation's own."""
        self.keys.setdefault(self._name(key), {})
        return super().raw(key)

    def child(self, key: str) -> Request:
        """A nested object."""
        self.keys.setdefault(self._name(key), _OBJECT)
        return super().child(key)

    def children(self, key: str, *, at_most: int = 200) -> tuple[Request, ...]:
        """A list of nested objects."""
        self.keys.setdefault(self._name(key), _ROWS)
        return super().children(key, at_most=at_most)

    def take(self, key: str, read: Callable[..., T], default: D, **limits: Any) -> T | D:
        """What is read in one of the ways of all calculations."""
        self.keys[self._name(key)] = _READ_AS[read](**limits)
        return super().take(key, read, default, **limits)

    def quantities(
        self, key: str, unit: str, *, at_least: int = 1, at_most: int = 50
    ) -> tuple[float, ...]:
        """A list of quantities in ``unit``."""
        items = quantity_schema(unit)
        shape = {"type": "array", "items": items, "minItems": at_least, "maxItems": at_most}
        self.keys[self._name(key)] = shape
        return super().quantities(key, unit, at_least=at_least, at_most=at_most)

    def _name(self, key: str) -> str:
        return _PLACE.sub("[]", self.field(key))


def told_keys(name: str) -> dict[str, Schema]:
    """Every key that the calculation reads of its examples: dotted name → schema."""
    keys: dict[str, Schema] = {}
    for body in EXAMPLES[name].values():
        calculation(name)(KeysRead(body, keys=keys))
    if name == "diagnose":
        keys["answers"] = {"type": "object", "properties": _questions()}
    return keys


def _questions() -> dict[str, Schema]:
    """The questions of the diagnosis, each with the answers it takes."""
    shapes: dict[str, Schema] = {}
    for row in questions().values():
        if row.kind == "number":
            shapes[row.id] = quantity_schema(row.unit)
        else:
            shapes[row.id] = {"enum": [*(one.option_id for one in options()[row.id]), None]}
        shapes[row.id]["description"] = " ".join(
            (str(row.ask), shapes[row.id].get("description", ""))
        ).strip()
    return shapes


def nested(keys: Mapping[str, Schema]) -> Schema:
    """The schema of an object from the dotted names of its keys.

    Keys that no calculation reads are allowed: an answer names them among its cautions.
    """
    properties: dict[str, Schema] = {}
    for key in dict.fromkeys(re.split(r"[.[]", name, maxsplit=1)[0] for name in keys):
        own, parts, rows = keys.get(key, {}), _within(keys, f"{key}."), _within(keys, f"{key}[].")
        of_parts = nested(parts) if parts else _OBJECT
        of_rows = {**_ROWS, "items": nested(rows)} if rows else _ROWS
        if own == _OBJECT:
            properties[key] = of_parts
        elif own == _ROWS:
            properties[key] = of_rows
        elif parts or rows:  # it may be written in more ways than one, and so may its rows
            each = {"anyOf": [_ONE_VALUE, nested(rows)]} if rows else {}
            listed = {**_ROWS, "items": each}
            properties[key] = {"anyOf": [own or _ONE_VALUE, of_parts, listed]}
        else:
            properties[key] = own
    return {**_OBJECT, "properties": properties}


def _within(keys: Mapping[str, Schema], start: str) -> dict[str, Schema]:
    return {
        name.removeprefix(start): shape for name, shape in keys.items() if name.startswith(start)
    }


# ── What an answer holds ─────────────────────────────────────────────────────────────────────

_PLAIN: Mapping[object, str] = {
    bool: "boolean",
    int: "integer",
    float: "number",
    str: "string",
    Text: "string",
    Figure: "string",
    Span: "string",
    type(None): "null",
}


def shape_of(kind: Any, parts: dict[str, Schema]) -> Schema:
    """The schema of a type as ``plain`` writes it; named types are added to ``parts``."""
    origin, inner = get_origin(kind), get_args(kind)
    if kind in _PLAIN:
        return {"type": _PLAIN[kind]}
    if origin in (Union, types.UnionType):
        return _either(inner, parts)
    if origin is tuple and inner[-1] is not Ellipsis:
        items = [shape_of(one, parts) for one in inner]
        return {"type": "array", "prefixItems": items, "minItems": len(items), "items": False}
    if origin in (tuple, list):
        return {"type": "array", "items": shape_of(inner[0], parts)}
    if origin is not None and issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": shape_of(inner[1], parts)}
    if is_dataclass(kind) or is_typeddict(kind):
        return _named(kind, parts)
    return {}


def _either(kinds: Iterable[Any], parts: dict[str, Schema]) -> Schema:
    shapes = [shape_of(one, parts) for one in kinds]
    if all(set(one) == {"type"} for one in shapes):
        return {"type": [one["type"] for one in shapes]}
    return {"anyOf": shapes}


def _named(kind: Any, parts: dict[str, Schema]) -> Schema:
    """A dataclass or typed dictionary, described once under its own name."""
    name = kind.__name__
    if name not in parts:
        parts[name] = {}  # its own fields may name it again
        types_of = get_type_hints(kind)
        keys = [part.name for part in fields(kind)] if is_dataclass(kind) else list(types_of)
        parts[name] = {
            "type": "object",
            "description": (kind.__doc__ or "").strip().split("\n")[0].replace("``", ""),
            "properties": {key: shape_of(types_of[key], parts) for key in keys},
            "required": keys,
        }
        if issubclass(kind, Answer):
            parts[name]["properties"]["said"] = dict(_SAID)
    return {"$ref": f"#/components/schemas/{name}"}


# ── The whole ────────────────────────────────────────────────────────────────────────────────

_PROBLEM: Schema = {
    "type": "object",
    "description": "What cannot be answered: which field, what is wrong, what would be right.",
    "properties": {
        "problem": {
            "type": "object",
            "properties": {
                "field": {"type": "string", "description": "The dotted key of the request."},
                "given": {"description": "What was given, cut short; null where it is no text."},
                "wrong": {"type": "string"},
                "instead": {"type": "string"},
            },
            "required": ["field", "given", "wrong", "instead"],
        }
    },
    "required": ["problem"],
}

#: status → what it says, of the problems that any call may end in.
_REFUSALS: Mapping[str, str] = {
    "400": "The body is not JSON.",
    "401": "Nobody is logged in; only where the server listens beyond its own machine.",
    "404": "There is nothing of that name.",
    "405": "This address takes another method.",
    "413": "The body is too large.",
    "422": "It cannot be answered as it stands.",
}


@cache
def document() -> Schema:
    """The description of the API; made once."""
    parts: dict[str, Schema] = {"Problem": _PROBLEM}
    paths = {f"/api/{name}": {"post": _operation(name, parts)} for name in CALCULATIONS}
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "fieldkit",
            "version": "1",
            "summary": "The calculations for joints between polyethylene tubing and PVC pipe.",
            "description": "Every answer carries its cautions, and its working with a source for"
            " each figure. Local code, the maker’s instructions and licensed practice come first."
            " Any request but one to measure or identify may carry, wherever a pipe stands in it,"
            " stops, not_for_pressure, other_kind or print_line as identify has them; it is refused"
            " where they name a pipe that takes no joint.",
        },
        "paths": {"/api/": {"get": _names()}, **paths},
        "components": {
            "schemas": parts,
            "securitySchemes": {
                "session": {"type": "apiKey", "in": "cookie", "name": "fieldkit"},
            },
        },
        "security": [{}, {"session": []}],
    }


def _operation(name: str, parts: dict[str, Schema]) -> Schema:
    ask = calculation(name)
    answer = shape_of(get_type_hints(ask)["return"], parts)
    examples = {label: {"value": body} for label, body in EXAMPLES[name].items()}
    body = {"schema": nested(told_keys(name)), "examples": examples}
    return {
        "operationId": name,
        "summary": (ask.__doc__ or "").strip().split("\n")[0].replace("``", ""),
        "requestBody": {"required": True, "content": {"application/json": body}},
        "responses": {
            "200": _json("The answer.", answer),
            **_refusals("400", "401", "413", "422"),
        },
    }


def _names() -> Schema:
    listed = {
        "type": "object",
        "properties": {"calculations": {"type": "array", "items": {"enum": list(CALCULATIONS)}}},
        "required": ["calculations"],
    }
    return {
        "operationId": "names",
        "summary": "The names of the calculations.",
        "responses": {"200": _json("The names.", listed), **_refusals("401")},
    }


def _refusals(*statuses: str) -> Schema:
    problem = {"$ref": "#/components/schemas/Problem"}
    return {status: _json(_REFUSALS[status], problem) for status in statuses}


def _json(said: str, schema: Schema) -> Schema:
    return {"description": said, "content": {"application/json": {"schema": schema}}}
