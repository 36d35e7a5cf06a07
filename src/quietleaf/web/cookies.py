"""The names of our cookies over TLS: with a prefix by which a browser takes them from us alone.

``__Host-`` (RFC 6265bis, 4.1.3.2): over TLS, for this host and no other, for all of its paths. On
the station's own machine there is no TLS, and a browser would not take such a name.
"""

from __future__ import annotations

from collections.abc import Iterable

from starlette.datastructures import MutableHeaders

PREFIX = "__Host-"
_OURS = "quietleaf_"


def give_prefix(headers: MutableHeaders) -> None:
    """Name each cookie that an answer sets with the prefix."""
    given = headers.getlist("set-cookie")
    if not given:
        return
    del headers["set-cookie"]
    for cookie in given:
        # One that is taken away needs the attribute too, or the browser keeps it.
        secure = cookie if "; secure" in cookie.lower() else f"{cookie}; Secure"
        headers.append("set-cookie", PREFIX + secure if cookie.startswith(_OURS) else cookie)


def without_prefix(headers: Iterable[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    """Give a request's headers with our cookies named as pages know them.

    One of our names without the prefix was set by somebody else, and is left out.
    """
    return [(name, _renamed(value) if name == b"cookie" else value) for name, value in headers]


def _renamed(value: bytes) -> bytes:
    pairs = (pair.strip() for pair in value.decode("latin-1").split(";"))
    kept = (pair.removeprefix(PREFIX) for pair in pairs if not pair.startswith(_OURS))
    return "; ".join(kept).encode("latin-1")
