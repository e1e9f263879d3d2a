"""JSON in and out without loss: a number with a fraction is a `Decimal` here and never passes through a float."""

from __future__ import annotations

import json
from collections.abc import Callable, Coroutine
from typing import Any

from fastapi import Request, Response
from fastapi.routing import APIRoute
from pydantic import BaseModel

from bandwright import exact_json

__all__ = ["Exact", "ExactRoute", "dumps"]


def dumps(value: Any) -> str:
    """Return an answer, or a message, as JSON text; a model is written under the names that its document has."""
    return exact_json.dumps(value, other=_plain)


def _plain(value: Any) -> Any:
    return value.model_dump(by_alias=True) if isinstance(value, BaseModel) else exact_json.plain(value)


class Exact(Response):
    """A JSON answer, from models, dataclasses and plain values."""

    media_type = "application/json"

    def render(self, content: Any) -> bytes:
        """Return the bytes; those of an answer that was made before are taken as they are."""
        return content if isinstance(content, bytes) else dumps(content).encode()


class _ExactRequest(Request):
    async def json(self) -> Any:
        """Return the body, read without loss."""
        body = await self.body()
        try:
            return exact_json.loads(body, as_double=True)
        except json.JSONDecodeError:
            raise
        except ValueError as error:
            raise json.JSONDecodeError(str(error), "", 0) from error


class ExactRoute(APIRoute):
    """A route whose body is read without loss."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Return the handler, which sees the exact request."""
        handler = super().get_route_handler()

        async def exact(request: Request) -> Response:
            return await handler(_ExactRequest(request.scope, request.receive))

        return exact
