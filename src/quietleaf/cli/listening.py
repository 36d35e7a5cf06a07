"""Takes the ports that the pages are served on."""

from __future__ import annotations

import errno
import socket

from quietleaf.errors import Invalid, Unavailable

PORTS_TRIED = 20
"""A taken port and those after it, before giving up."""


def listen(host: str, wanted: int) -> socket.socket:
    """Take a port, or the next free one.

    Raises
    ------
    Invalid
        If it is no port, one kept for the system, or the address is not this machine's.
    Unavailable
        If it and those after it are all taken.
    """
    if not 0 <= wanted <= 65_535:
        raise Invalid("run/port", f"A port is a number up to 65535; {wanted} was given.")
    last = min(wanted + PORTS_TRIED, 65_536)
    for port in range(wanted, last):
        listening = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)
        # Free at once after a stop, though old connections still fade.
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((host, port))
            # Only a listening socket keeps others out: bound alone, two may have one port.
            listening.listen(1024)
        except OSError as fault:
            listening.close()
            if fault.errno == errno.EADDRINUSE:
                continue
            if fault.errno == errno.EACCES:
                raise Invalid(
                    "run/port-kept",
                    f"Port {port} is kept for the system on this machine. Choose one above 1023 "
                    "with --port.",
                ) from fault
            raise Invalid(
                "run/host",
                f"{host!r} is not an address of this machine ({fault.strerror}). "
                "Leave --host out for the usual one.",
            ) from fault
        else:
            return listening
    raise Unavailable(
        "run/ports-taken",
        f"Ports {wanted} to {last - 1} are all taken by other programs. "
        "Choose a free one with --port.",
    )


def own_names() -> list[str]:
    """Guess under which names and addresses others on the network ask for this machine."""
    name = socket.gethostname().lower().partition(".")[0]
    names = [f"{name}.local"] if name else []
    # Nothing is sent: the system only says from which address it would be.
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(("192.0.2.1", 9))
            names.append(asking.getsockname()[0])
        except OSError:
            # Without a network there is no such address.
            names.append("127.0.0.1")
    return names
