"""The room check before a reading."""

from __future__ import annotations

from starlette.routing import BaseRoute

ROUTES: list[BaseRoute] = []
