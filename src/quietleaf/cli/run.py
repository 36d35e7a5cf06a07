"""`quietleaf run`: open the station in a browser; with ``--tls`` also for booths and homes."""

from __future__ import annotations

import argparse
import socket
import sys
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

from quietleaf.cli.listening import listen, own_names
from quietleaf.cli.log_file import logging_to
from quietleaf.cli.open_files import allow_open_files
from quietleaf.cli.station_tools import add_data_option, station_tools
from quietleaf.errors import Invalid, NotFound
from quietleaf.settings import SETTINGS, read_settings

if TYPE_CHECKING:
    import uvicorn
    from starlette.applications import Starlette

    from quietleaf.storage.authority import Certificate
    from quietleaf.work.tools import Tools

OWN_MACHINE = "127.0.0.1"
ANY_ADDRESS = ("0.0.0.0", "::")

STOPPING_S = 2
"""Given to answers that are under way: a player may hold one open for as long as it likes."""
LARGEST_MESSAGE_BYTES = 1 << 20
"""Of sound on its way from a stand; pages send at most a quarter of it at once."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    help_of = {setting.name: setting.help for setting in SETTINGS}
    add_data_option(parser)
    parser.add_argument("--port", type=int, metavar="N", help=help_of["port"])
    parser.add_argument(
        "--host",
        metavar="ADDRESS",
        help=f"the address of this machine that answers (default {OWN_MACHINE}: nobody else; with "
        "--tls every one). Elsewhere booth pages and personal links answer alone",
    )
    parser.add_argument(
        "--tls",
        action="store_true",
        help="also serve booths and readers at home, encrypted, with the station's own "
        "certificate or the one given",
    )
    parser.add_argument("--tls-port", type=int, metavar="N", help=help_of["tls_port"])
    parser.add_argument(
        "--name",
        action="append",
        metavar="NAME",
        help="a name or address under which others ask for this machine, for its own certificate; "
        "may come several times (default: this machine's name and address)",
    )
    parser.add_argument("--certificate", type=Path, metavar="FILE", help="a PEM certificate chain")
    parser.add_argument("--key", type=Path, metavar="FILE", help="the PEM key of --certificate")


def run(options: argparse.Namespace) -> int:
    """Serve the pages until Ctrl-C."""
    from quietleaf.storage.recogniser import check_model
    from quietleaf.work.practice import sweep_practice

    _check(options)
    allow_open_files()
    settings = read_settings()
    if settings["recogniser"]:
        check_model(Path(settings["recogniser"]))
    wanted = settings["port"] if options.port is None else options.port
    plain_host = OWN_MACHINE if options.tls else options.host or OWN_MACHINE
    with ExitStack() as stack:
        listening = stack.enter_context(listen(plain_host, wanted))
        tools = stack.enter_context(station_tools(options))
        stack.enter_context(logging_to(tools.data))
        sweep_practice(tools)
        port = listening.getsockname()[1]
        if wanted not in (0, port):
            print(f"Port {wanted} is taken by another program; the next free one is {port}.")
        print(f"{_opened(tools)} at {_address('http', plain_host, port)}")
        if options.tls:
            secure = stack.enter_context(
                listen(options.host or ANY_ADDRESS[0], options.tls_port or settings["tls_port"])
            )
            certificate, names = _certificate(options, tools)
            servers = _servers(tools, [listening], secure, certificate, names)
            print(
                "Booths and readers at home: "
                + _address("https", names[0], secure.getsockname()[1])
            )
            if options.certificate is None:
                print("Their computers must trust this station first: see /trust on its page.")
        else:
            hosts = None if plain_host in ANY_ADDRESS else {*_own_names(), _name(plain_host)}
            servers = _plain_server(tools, hosts, listening)
            if plain_host not in _own_names():
                print("From elsewhere only booth pages and personal links are answered; a browser")
                print("gives them a microphone over TLS alone: see --tls.")
        try:
            print("Ctrl-C stops it.", flush=True)
            _serve(servers)
        except KeyboardInterrupt:
            # The servers have closed by themselves, or had not begun yet.
            print("\nStopped.", file=sys.stderr)
    return 0


Served = list[tuple["uvicorn.Server", socket.socket]]


def _plain_server(tools: Tools, hosts: set[str] | None, listening: socket.socket) -> Served:
    from quietleaf.web.app import make_app

    return [(_server(make_app(tools, hosts)), listening)]


def _servers(
    tools: Tools,
    plain: list[socket.socket],
    secure: socket.socket,
    certificate: Certificate,
    names: tuple[str, ...],
) -> Served:
    from quietleaf.web.app import OWN_NAMES, make_app

    # One set of pages behind both doors: who records at one is seen at the other.
    outside = _address("https", names[0], secure.getsockname()[1]).rstrip("/")
    app = make_app(tools, {*OWN_NAMES, *(_name(name.strip("[]")) for name in names)}, outside)
    inside = [(_server(app), listening) for listening in plain]
    return [*inside, (_server(app, certificate), secure)]


def _server(app: Starlette, certificate: Certificate | None = None) -> uvicorn.Server:
    """Make a door to the pages; the plain one alone tells them when they begin and end."""
    import uvicorn

    config = uvicorn.Config(
        app,
        log_level="warning",
        log_config=None,  # cli.log_file
        access_log=False,
        server_header=False,
        proxy_headers=False,
        ws="websockets-sansio",
        ws_max_size=LARGEST_MESSAGE_BYTES,
        # Sound hardly gets smaller by it, and costs the most time of all.
        ws_per_message_deflate=False,
        timeout_graceful_shutdown=STOPPING_S,
        # The library's own choice has none for TLS 1.2 that encrypts and proves in one.
        ssl_ciphers="ECDHE+AESGCM:ECDHE+CHACHA20",
        lifespan="auto" if certificate is None else "off",
        ssl_certfile=None if certificate is None else certificate.certificate,
        ssl_keyfile=None if certificate is None else certificate.key,
    )
    return uvicorn.Server(config)


def _serve(servers: Served) -> None:
    """Serve at every door until one of them is told to stop."""
    import asyncio

    async def all_of_them() -> None:
        serving = [
            asyncio.create_task(server.serve(sockets=[listening])) for server, listening in servers
        ]
        await asyncio.wait(serving, return_when=asyncio.FIRST_COMPLETED)
        for server, _ in servers:
            server.should_exit = True
        await asyncio.gather(*serving)

    asyncio.run(all_of_them())


def _check(options: argparse.Namespace) -> None:
    if (options.certificate is None) != (options.key is None):
        raise Invalid(
            "run/certificate",
            "A certificate and its key are given together: --certificate FILE --key FILE.",
        )
    if not options.tls and (options.certificate or options.name or options.tls_port):
        raise Invalid(
            "run/tls", "--certificate, --key, --name and --tls-port belong to --tls. Add it."
        )


def _certificate(options: argparse.Namespace, tools: Tools) -> tuple[Certificate, tuple[str, ...]]:
    from quietleaf.storage.authority import Certificate, local_certificate, names_of

    if options.certificate is None:
        names = tuple(options.name or own_names())
        return local_certificate(tools.data, names, tools.clock()), names
    given = Certificate(certificate=options.certificate, key=options.key)
    _refuse_unfit(given)
    return given, names_of(given.certificate)


def _refuse_unfit(given: Certificate) -> None:
    import ssl

    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(given.certificate, given.key)
    except OSError as fault:
        raise Invalid(
            "run/certificate-unfit",
            f"{given.certificate} and {given.key} cannot be used together "
            f"({fault.strerror or fault}). Both are PEM files, and the key is the certificate's.",
        ) from fault


def _opened(tools: Tools) -> str:
    try:
        return f"{tools.database.load_station().name} is open"
    except NotFound:
        return (
            f"There is no station in {tools.data} yet; `quietleaf demo` makes the example "
            "station there.\nUntil then a page that says the same is open"
        )


def _own_names() -> tuple[str, ...]:
    from quietleaf.web.app import OWN_NAMES

    return OWN_NAMES


def _name(host: str) -> str:
    return f"[{host}]" if ":" in host else host.lower()


def _address(scheme: str, host: str, port: int) -> str:
    return f"{scheme}://{_name(host.strip('[]'))}:{port}/"
