"""`quietleaf run` as a person starts it: the address, a taken port, Ctrl-C."""

from __future__ import annotations

import json
import re
import signal
import socket
import ssl
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

import pytest

from quietleaf.cli.main import main
from quietleaf.storage.authority import authority_file, fingerprint_of, local_certificate
from tests.finished import example_station

COMMAND = "from quietleaf.cli.main import main; raise SystemExit(main())"
STOP_S = 60


@contextmanager
def running(*options: str) -> Iterator[tuple[subprocess.Popen[str], list[str]]]:
    """Run the command until the block ends; give it and the lines up to its last before serving."""
    process = subprocess.Popen(
        [sys.executable, "-c", COMMAND, "run", *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        lines = []
        for line in process.stdout:
            lines.append(line.rstrip("\n"))
            if line.startswith("Ctrl-C"):
                break
        yield process, lines
    finally:
        process.kill()
        process.communicate()


def address(lines: list[str]) -> str:
    """Find the address that was printed."""
    (found,) = re.findall(r"http://\S+", "\n".join(lines))
    return str(found)


def secure_address(lines: list[str]) -> str:
    """Find the address that was printed for booths and homes."""
    (found,) = re.findall(r"https://\S+", "\n".join(lines))
    return str(found)


@pytest.fixture
def taken() -> Iterator[int]:
    """Give a port that another program has."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        yield other.getsockname()[1]


def free(options: list[str]) -> list[str]:
    """Add a port that is free where none is asked for."""
    return [] if "--port" in options else ["--port", "0"]


def got(url: str) -> str:
    """Ask an address."""
    with urlopen(url, timeout=STOP_S) as answer:
        return str(answer.read().decode())


def test_it_prints_its_address_serves_and_stops_cleanly(tmp_path: Path) -> None:
    example_station(tmp_path).database.close()
    for _start in ("first", "second"):
        with running("--data", str(tmp_path), "--port", "0") as (process, lines):
            assert "Marrowby Reading Service is open at http://127.0.0.1:" in lines[0]
            assert got(address(lines) + "health") == "well\n"
            assert "Field and Lane" in got(address(lines) + "day/2026-11-25")
            process.send_signal(signal.SIGINT)
            out, told = process.communicate(timeout=STOP_S)
            assert (process.returncode, out, told.strip()) == (0, "", "Stopped.")
    log = (tmp_path / "log" / "quietleaf.jsonl").read_text(encoding="utf-8").splitlines()
    told_of = [(line["row"], line["status"]) for line in map(json.loads, log)]
    assert told_of == [("/health", 200), ("/day/{day}", 200)] * 2


def test_a_taken_port_is_named_and_the_next_one_used(tmp_path: Path, taken: int) -> None:
    with running("--data", str(tmp_path), "--port", str(taken)) as (_, lines):
        assert f"Port {taken} is taken by another program" in lines[0]
        port = int(address(lines).rsplit(":", 1)[1].strip("/"))
        assert taken < port < taken + 20
        assert got(address(lines) + "health") == "well\n"


def test_without_a_station_it_says_how_to_get_the_example(tmp_path: Path) -> None:
    with running("--data", str(tmp_path / "none"), "--port", "0") as (_, lines):
        assert "There is no station" in lines[0]
        assert "`quietleaf demo`" in lines[0]
        assert got(address(lines) + "health") == "well\n"


def test_an_answer_under_way_does_not_keep_it_from_stopping(tmp_path: Path) -> None:
    with running("--data", str(tmp_path), "--port", "0") as (process, lines):
        port = int(address(lines).rsplit(":", 1)[1].strip("/"))
        with socket.create_connection(("127.0.0.1", port)) as held:
            held.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n")
            process.send_signal(signal.SIGINT)
            process.communicate(timeout=STOP_S)
            assert process.returncode == 0


def test_booths_and_homes_are_served_over_tls_with_a_certificate_of_its_own(tmp_path: Path) -> None:
    example_station(tmp_path).database.close()
    options = ["--data", str(tmp_path), "--port", "0", "--tls", "--tls-port", "18443"]
    with running(*options, "--name", "127.0.0.1") as (process, lines):
        trusting = ssl.create_default_context(cafile=str(tmp_path / "tls" / "authority.crt"))
        secure = secure_address(lines)
        with urlopen(f"{secure}health", timeout=STOP_S, context=trusting) as answer:
            assert answer.read() == b"well\n"
        with urlopen(f"{secure}trust", timeout=STOP_S, context=trusting) as answer:
            page = answer.read().decode()
        pairs = re.search(r"(?:[0-9A-F]{2} ){31}[0-9A-F]{2}", page)
        assert pairs is not None
        assert pairs[0] == fingerprint_of(tmp_path / "tls" / "authority.crt")
        with urlopen(
            f"{secure}trust/quietleaf-station.crt", timeout=STOP_S, context=trusting
        ) as answer:
            assert answer.read() == (tmp_path / "tls" / "authority.crt").read_bytes()
        with pytest.raises(URLError, match="certificate verify failed"):
            got(f"{secure}health")
        assert _agreed(secure, trusting, ssl.TLSVersion.TLSv1_3)[1] == "TLSv1.3"
        cipher, version = _agreed(secure, trusting, ssl.TLSVersion.TLSv1_2)
        assert (version, "GCM" in cipher or "CHACHA20" in cipher) == ("TLSv1.2", True)
        assert cipher.startswith("ECDHE")
        assert "Field and Lane" in got(address(lines) + "day/2026-11-25")
        process.send_signal(signal.SIGINT)
        out, told = process.communicate(timeout=STOP_S)
        assert (process.returncode, out, told.strip()) == (0, "", "Stopped.")


def test_a_certificate_that_is_given_is_used(tmp_path: Path) -> None:
    made = local_certificate(tmp_path / "elsewhere", ["127.0.0.1"], datetime.now(UTC))
    given = ["--certificate", str(made.certificate), "--key", str(made.key)]
    data = tmp_path / "station"
    with running("--data", str(data), "--port", "0", "--tls", "--tls-port", "18543", *given) as (
        _,
        lines,
    ):
        trusting = ssl.create_default_context(cafile=str(authority_file(tmp_path / "elsewhere")))
        with urlopen(f"{secure_address(lines)}health", timeout=STOP_S, context=trusting) as answer:
            assert answer.read() == b"well\n"
    assert not (data / "tls").exists()


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (["--key", "x.key"], "A certificate and its key are given together"),
        (["--name", "studio.lan"], "belong to --tls. Add it."),
        (["--tls", "--name", "example.org"], "get a certificate that browsers trust"),
        (
            ["--tls", "--certificate", __file__, "--key", __file__],
            "cannot be used together",
        ),
        (["--port", "70000"], "A port is a number up to 65535; 70000 was given."),
        (["--port", "-1"], "A port is a number up to 65535; -1 was given."),
        (["--host", "192.0.2.1"], "'192.0.2.1' is not an address of this machine"),
    ],
)
def test_what_cannot_be_opened_is_refused(
    tmp_path: Path, options: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["run", "--data", str(tmp_path), *options, *free(options)]) == 2
    assert sentence in capsys.readouterr().err


def _agreed(url: str, trusting: ssl.SSLContext, newest: ssl.TLSVersion) -> tuple[str, str]:
    """Give the cipher and the version that a client and the station agree on."""
    host, port = re.findall(r"//([^:]+):(\d+)", url)[0]
    trusting.maximum_version = newest
    with (
        socket.create_connection((host, int(port)), timeout=STOP_S) as plain,
        trusting.wrap_socket(plain, server_hostname=host) as secure,
    ):
        cipher = secure.cipher()
        assert cipher is not None
        return cipher[0], str(secure.version())
