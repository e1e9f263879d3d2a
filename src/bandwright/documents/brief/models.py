"""Look into pydantic models by the paths of a document: which keys there are, and what a field holds."""

from __future__ import annotations

from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo

__all__ = ["field_at", "fields_of", "keys_at", "table_in"]

Path = tuple[str | int, ...]


def fields_of(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """Return the fields of a model by the keys that a document uses."""
    return {field.alias or name: field for name, field in model.model_fields.items()}


def table_in(annotation: Any) -> type[BaseModel] | None:
    """Return the model inside an annotation such as `list[TuningTable] | None`, or None."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for part in get_args(annotation) if (found := table_in(part)) is not None), None)


def keys_at(model: type[BaseModel], path: Path) -> list[str]:
    """Return the keys that a table at a path may have."""
    return list(fields_of(_model_at(model, path)))


def field_at(model: type[BaseModel], path: Path) -> FieldInfo | None:
    """Return the field at a path, or None where a path ends inside a field."""
    return fields_of(_model_at(model, path[:-1])).get(str(path[-1]))


def _model_at(model: type[BaseModel], path: Path) -> type[BaseModel]:
    for part in path:
        field = fields_of(model).get(str(part))
        inner = table_in(field.annotation) if field is not None else None
        model = inner or model
    return model
