"""Who may see what, until there are accounts: the desk's pages answer on this machine alone."""

from __future__ import annotations

import ipaddress

from starlette.datastructures import Headers
from starlette.types import Scope

LOOPBACK_NAMES = frozenset({"127.0.0.1", "localhost", "[::1]"})
OUTSIDE = ("booth", "stand", "link", "practice", "trust", "static", "health")
"""First parts of the addresses that anybody may ask for: booth pages and personal links."""
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


def is_for_everybody(path: str) -> bool:
    """Say whether an address may be asked for from outside.

    Examples
    --------
    >>> is_for_everybody("/stand/reading"), is_for_everybody("/plan"), is_for_everybody("/")
    (True, False, False)
    """
    return path.split("/")[1:2] != [""] and path.split("/")[1] in OUTSIDE
