"""Coming in: booths, names, personal links, and what a reader reads today."""

from __future__ import annotations

from starlette.routing import BaseRoute

ROUTES: list[BaseRoute] = []
