"""What pydantic found wrong with a brief, in the words of a brief."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from bandwright.documents.faults import Findings, given_text, list_text, nearest_hint
from bandwright.documents.lines import toml_lines
from bandwright.errors import InputError

__all__ = ["parse_toml", "validated"]

Model = TypeVar("Model", bound=BaseModel)


def parse_toml(text: str, *, file: str) -> tuple[dict[str, Any], Findings]:
    """Return the tables of a TOML text, numbers as decimals, and a place for findings that knows its lines."""
    try:
        data = tomllib.loads(text, parse_float=Decimal)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError, ArithmeticError) as error:
        line = getattr(error, "lineno", None)
        reason = getattr(error, "msg", None) or str(error)
        words = f"this is no TOML: {reason[:1].lower()}{reason[1:]}."
        hint = "Text stands in quotes, tables start with [name] or [[name]]."
        raise InputError.single("no-toml", words, file=file, line=line, hint=hint) from error
    return data, Findings(file=file, lines=toml_lines(text))


def validated(model: type[Model], data: dict[str, Any], findings: Findings) -> Model | None:
    """Return the model of the tables, or None with everything that is wrong noted."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        for item in error.errors():
            _note(model, item, findings)
        return None


def _note(model: type[BaseModel], item: Any, findings: Findings) -> None:
    path = tuple(part for part in item["loc"] if part != "[key]")
    key = str(path[-1]) if path else "the file"
    given = given_text(item["input"])
    context = item.get("ctx", {})
    if item["type"] == "extra_forbidden":
        known = _keys(_model_at(model, path[:-1]))
        text = f'there is no key "{key}" here; known: {list_text(known, most=40)}.'
        hint = nearest_hint(key, known)
        findings.add("unknown-key", path, text, given=key, allowed=list_text(known, most=40), hint=hint)
    elif item["type"] == "missing":
        findings.add("missing", path, f'"{key}" is missing.', allowed=_example(model, path), hint=_example(model, path))
    elif "problem" in context:
        text = f"{key} is {given}, but {context['problem']}."
        findings.add(item["type"], path, text, given=given, allowed=context["allowed"], hint=context["hint"])
    else:
        text = f"{key} is {given}, but {_plain(item['msg'])}."
        findings.add(item["type"], path, text, given=given, allowed=_plain(item["msg"]))


def _plain(message: str) -> str:
    return {
        "Input should be a valid list": "must be a list: [[name]] for a table that may come several times",
        "Input should be a valid dictionary": "must be a table such as { key = value }",
        "Input should be 1": "must be 1, the version of briefs that this program reads",
    }.get(message, message[:1].lower() + message[1:])


def _model_at(model: type[BaseModel], path: tuple[Any, ...]) -> type[BaseModel]:
    for part in path:
        if isinstance(part, int):
            continue
        inner = next((i for name, i in _fields(model).items() if name == part), None)
        found = _table_in(inner.annotation) if inner is not None else None
        if found is None:
            break
        model = found
    return model


def _fields(model: type[BaseModel]) -> dict[str, Any]:
    return {field.alias or name: field for name, field in model.model_fields.items()}


def _keys(model: type[BaseModel]) -> list[str]:
    return list(_fields(model))


def _table_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for part in get_args(annotation) if (found := _table_in(part)) is not None), None)


def _example(model: type[BaseModel], path: tuple[Any, ...]) -> str | None:
    field = _fields(_model_at(model, path[:-1])).get(str(path[-1]))
    examples = field.examples if field is not None else None
    return f"For example: {path[-1]} = {given_text(examples[0])}." if examples else None
