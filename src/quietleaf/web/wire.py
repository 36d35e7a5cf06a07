"""The WebSocket by which sound comes from the stand."""

from __future__ import annotations

from starlette.routing import BaseRoute

ROUTES: list[BaseRoute] = []
