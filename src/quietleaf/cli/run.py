"""`quietleaf run`: open the station in a browser on this machine."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from quietleaf.cli.station_tools import add_data_option, station_tools
from quietleaf.settings import SETTINGS, read_settings

if TYPE_CHECKING:
    import socket

    from quietleaf.work.tools import Tools

OWN_MACHINE = "127.0.0.1"
ANY_ADDRESS = ("0.0.0.0", "::")
PORTS_TRIED = 20
"""A taken port and those after it, before giving up."""

STOPPING_S = 2
"""Given to answers that are under way: a player may hold one open for as long as it likes."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    help_of = {setting.name: setting.help for setting in SETTINGS}
    add_data_option(parser)
    parser.add_argument("--port", type=int, metavar="N", help=help_of["port"])
    parser.add_argument(
        "--host",
        default=OWN_MACHINE,
        metavar="ADDRESS",
        help=f"the address of this machine that answers (default {OWN_MACHINE}: nobody else)",
    )


def run(options: argparse.Namespace) -> int:
    """Serve the pages until Ctrl-C."""
    import uvicorn

    from quietleaf.web.app import OWN_NAMES, make_app

    wanted = read_settings()["port"] if options.port is None else options.port
    hosts = None if options.host in ANY_ADDRESS else {*OWN_NAMES, _name(options.host)}
    with _listen(options.host, wanted) as listening, station_tools(options) as tools:
        port = listening.getsockname()[1]
        config = uvicorn.Config(
            make_app(tools, hosts),
            log_level="warning",
            access_log=False,
            server_header=False,
            timeout_graceful_shutdown=STOPPING_S,
        )
        if wanted not in (0, port):
            print(f"Port {wanted} is taken by another program; the next free one is {port}.")
        print(f"{_opened(tools)} at {_address(options.host, port)}")
        if options.host not in OWN_NAMES:
            print("There are no accounts yet: whoever reaches this address sees the station.")
        try:
            print("Ctrl-C stops it.", flush=True)
            uvicorn.Server(config).run(sockets=[listening])
        except KeyboardInterrupt:
            # The server has closed by itself, or had not begun yet.
            print("\nStopped.", file=sys.stderr)
    return 0


def _opened(tools: Tools) -> str:
    from quietleaf.errors import NotFound

    try:
        return f"{tools.database.load_station().name} is open"
    except NotFound:
        return (
            f"There is no station in {tools.data} yet; `quietleaf demo` makes the example "
            "station there.\nUntil then a page that says the same is open"
        )


def _listen(host: str, wanted: int) -> socket.socket:
    """Take the port, or the next free one."""
    import errno
    import socket

    from quietleaf.errors import Invalid, Unavailable

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
            listening.listen(128)
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
                f"Leave --host out for {OWN_MACHINE}.",
            ) from fault
        else:
            return listening
    raise Unavailable(
        "run/ports-taken",
        f"Ports {wanted} to {last - 1} are all taken by other programs. "
        "Choose a free one with --port.",
    )


def _name(host: str) -> str:
    return f"[{host}]" if ":" in host else host.lower()


def _address(host: str, port: int) -> str:
    return f"http://{_name(host)}:{port}/"
