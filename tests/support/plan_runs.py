"""A run of the engine over the API, waited for."""

from __future__ import annotations

from typing import Any

import httpx
from served_app import App, heard


def run(app: App, client: httpx.Client, path: str = "/api/plan/run", **wish: Any) -> dict[str, Any]:
    """Start a run and wait for its end, which the socket tells."""
    with app.socket(client) as socket:
        heard(socket, "hello")
        answer = client.post(path, json=wish)
        assert answer.status_code == 200, answer.text
        while (state := heard(socket, "run"))["state"] == "running":
            assert state["run"] == answer.json()["run"]
    return state
