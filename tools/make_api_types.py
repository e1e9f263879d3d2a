"""The types of what the API takes and answers; `python -m tools.make_schemas` writes them along with the schemas.

`tools/api.d.ts` is made of the API's own OpenAPI description. It is laid beside the pages while their types are
checked (`tools.check_pages`), so that a page that reads what no answer holds is found; it is not shipped.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, cast

from bandwright.web.app import make_api
from bandwright.web.serving import Serving
from tools.generated import ROOT

__all__ = ["TYPES", "contents", "types_of"]

TYPES = ROOT / "tools" / "api.d.ts"

_HEAD = """\
/**
 * What the API takes and answers. Made by `python -m tools.make_schemas` of its OpenAPI description; not shipped.
 * In a page: `@typedef {import("../api").Change} Change`.
 */
"""
_CALLS = """\
/** Whether a path, as a page puts it together, is that of a call: whatever stands where the call has braces. */
type Fits<P extends string, C extends string> = P extends `${infer A}/${infer B}`
  ? C extends `${infer K}/${infer L}` ? (Part<A, K> extends true ? Fits<B, L> : false) : false
  : C extends `${string}/${string}` ? false : Part<P, C>;
type Part<A extends string, K extends string> = K extends `{${string}}` ? true : A extends K ? true : false;
type Bare<P extends string> = P extends `${infer Path}?${string}` ? Path : P;
type Call<M extends string, P extends string> = {
  [C in keyof Answers]: Fits<`${M} /api${Bare<P>}`, C> extends true ? C : never;
}[keyof Answers];
type Unknown<M extends string, P extends string> = string extends M ? true : string extends P ? true : false;

/** What a method and a path below /api answer; anything where they are known only when the page runs. */
export type Answer<M extends string, P extends string> = Unknown<M, P> extends true ? any : Answers[Call<M, P>];

/** The path, where it leads to a call; a path that leads nowhere is no value of this type. */
export type Known<M extends string, P extends string> = Unknown<M, P> extends true ? P
  : [Call<M, P>] extends [never] ? never : P;
"""
_PLAIN = {"string": "string", "integer": "number", "number": "number", "boolean": "boolean", "null": "null"}

Schema = Mapping[str, Any]


def contents() -> str:
    """Return the types as text."""
    api = make_api(cast(Serving, None)).openapi()  # what is served is asked for only by requests
    return types_of(api)


def types_of(api: Mapping[str, Any]) -> str:
    """Return every schema of an OpenAPI description as a TypeScript type, then the answer to each call by its name.

    Behind them stands what tells the call from a method and a path as pages put it together.

    Examples
    --------
    >>> shapes = {"Place": {"type": "object", "required": ["id"], "properties": {"id": {"type": "string"}}}}
    >>> written = types_of({"components": {"schemas": shapes}, "paths": {}})
    >>> next(line for line in written.splitlines() if "Place" in line)
    'export interface Place { id: string }'
    """
    shapes = api["components"]["schemas"]
    asked = _named(_bodies(api["paths"]), shapes)
    parts = [_HEAD, *(_declared(name, _whole(shapes[name], asked=name in asked)) for name in sorted(shapes))]
    answers = "".join(f'  "{call}": {shape};\n' for call, shape in _answers(api["paths"]))
    return "\n".join([*parts, f"/** The answer to each call. */\nexport interface Answers {{\n{answers}}}\n", _CALLS])


def _bodies(paths: Mapping[str, Any]) -> list[Any]:
    return [call.get("requestBody") for calls in paths.values() for call in calls.values()]


def _named(within: Any, shapes: Mapping[str, Any]) -> set[str]:
    """Return the names of all schemas that something refers to, and those that they refer to."""
    found: set[str] = set()
    left = [within]
    while left:
        item = left.pop()
        if isinstance(item, list):
            left += item
        elif isinstance(item, Mapping):
            name = str(item.get("$ref", "")).rsplit("/", maxsplit=1)[-1]
            if name in shapes and name not in found:
                found.add(name)
                left.append(shapes[name])
            left += item.values()
    return found


def _whole(schema: Schema, *, asked: bool) -> Schema:
    """Return a schema with all keys required where it is only answered: answers are written whole."""
    return schema if asked or not _is_table(schema) else {**schema, "required": list(schema["properties"])}


def _declared(name: str, schema: Schema) -> str:
    words = schema.get("description")
    told = f"/** {' '.join(words.split())} */\n" if words else ""
    kind = f"export interface {_name(name)} {_type(schema)}" if _is_table(schema) else ""
    return f"{told}{kind or f'export type {_name(name)} = {_type(schema)};'}\n"


def _name(name: str) -> str:
    return "".join(letter if letter.isalnum() else "_" for letter in name)


def _is_table(schema: Schema) -> bool:
    return schema.get("type") == "object" and "properties" in schema


def _type(schema: Schema) -> str:
    """Return a schema as a type; what it does not say may be anything."""
    for key, form in _FORMS.items():
        if schema.get(key) is not None:
            return form(schema[key])
    by_kind: Mapping[str, Callable[[Schema], str]] = {"array": _list_type, "object": _table_type}
    kind = str(schema.get("type"))
    return by_kind[kind](schema) if kind in by_kind else _PLAIN.get(kind, "any")


def _literals(values: Iterable[Any]) -> str:
    return " | ".join(json.dumps(value, ensure_ascii=False) for value in values)


def _any_of(schemas: Iterable[Schema]) -> str:
    return " | ".join(dict.fromkeys(_type(item) for item in schemas))


_FORMS: Mapping[str, Callable[[Any], str]] = {
    "$ref": lambda ref: _name(str(ref).rsplit("/", maxsplit=1)[-1]),
    "const": lambda value: _literals([value]),
    "enum": _literals,
    "anyOf": _any_of,
    "oneOf": _any_of,
}


def _list_type(schema: Schema) -> str:
    if "prefixItems" in schema:
        return f"[{', '.join(_type(item) for item in schema['prefixItems'])}]"
    inner = _type(schema.get("items", {}))
    return f"({inner})[]" if " " in inner else f"{inner}[]"


def _table_type(schema: Schema) -> str:
    if "properties" not in schema:
        rest = schema.get("additionalProperties", True)
        return f"{{ [key: string]: {_type(rest) if isinstance(rest, Mapping) else 'any'} }}"
    required = schema.get("required", ())
    keys = [
        f"{json.dumps(key) if not key.isidentifier() else key}{'' if key in required else '?'}: {_type(item)}"
        for key, item in schema["properties"].items()
    ]
    more = ["[key: string]: any"] if schema.get("additionalProperties") is True else []
    return f"{{ {'; '.join([*keys, *more])} }}"


def _answers(paths: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for path, calls in sorted(paths.items()):
        for method, call in sorted(calls.items()):
            content = call["responses"].get("200", {}).get("content", {}).get("application/json")
            if content is not None or "204" in call["responses"]:
                yield f"{method.upper()} {path}", "null" if content is None else _type(content["schema"])
