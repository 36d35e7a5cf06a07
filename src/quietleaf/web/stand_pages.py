"""The stand: the page a reader sits in front of."""

from __future__ import annotations

from starlette.routing import BaseRoute

ROUTES: list[BaseRoute] = []
