"""The desk's planning: each handler asks one verb and renders what it gives."""

from __future__ import annotations

from starlette.routing import BaseRoute

ROUTES: list[BaseRoute] = []
