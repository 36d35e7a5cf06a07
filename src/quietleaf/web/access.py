"""Whether a request was made at the station's own machine: trusted until there are accounts."""

from __future__ import annotations

import ipaddress

from starlette.datastructures import Headers
from starlette.types import Scope

LOOPBACK_NAMES = frozenset({"127.0.0.1", "localhost", "[::1]"})
_FORWARDING = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")


def is_at_the_desk(scope: Scope, host: str) -> bool:
    """Say whether a request was made on this machine itself.

    A page passed on by another program on this machine comes from a loopback address too; its
    headers, or the name it was asked under, give it away.

    Parameters
    ----------
    host : str
        The name in the Host header, without port.
    """
    headers = Headers(scope=scope)
    if host not in LOOPBACK_NAMES or any(name in headers for name in _FORWARDING):
        return False
    client = scope.get("client")
    try:
        return client is not None and ipaddress.ip_address(client[0]).is_loopback
    except ValueError:
        return False


def is_private(scope: Scope, host: str) -> bool:
    """Say whether nobody on the way can read along: over TLS, or on this machine itself."""
    return scope["scheme"] in ("https", "wss") or is_at_the_desk(scope, host)
