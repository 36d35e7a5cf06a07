"""The station's own certificates, held against OpenSSL through Python's ssl."""

from __future__ import annotations

import socket
import ssl
import stat
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509

from quietleaf.errors import Damaged, Invalid, NotFound
from quietleaf.storage.authority import (
    Certificate,
    authority_file,
    fingerprint_of,
    local_certificate,
    names_of,
)

NAMES = ["studio.lan", "127.0.0.1", "::1"]


def now() -> datetime:
    """Give the real moment: OpenSSL asks the real clock."""
    return datetime.now(UTC)


def shakes_hands(data: Path, made: Certificate, asked: str) -> bool:
    """Open a TLS line as a browser that trusts the authority does."""
    serving = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    serving.load_cert_chain(made.certificate, made.key)
    asking = ssl.create_default_context(cafile=str(authority_file(data)))
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def serve() -> None:
            try:
                with serving.wrap_socket(listening.accept()[0], server_side=True) as line:
                    line.recv(1)
            except OSError:
                pass  # the other side refused, which is what it tells us

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            with (
                socket.create_connection(listening.getsockname()) as plain,
                asking.wrap_socket(plain, server_hostname=asked) as line,
            ):
                line.send(b".")
                return True
        except ssl.SSLCertVerificationError:
            return False
        finally:
            thread.join()


@pytest.mark.parametrize(
    ("asked", "trusted"),
    [("studio.lan", True), ("127.0.0.1", True), ("::1", True), ("other.lan", False)],
)
def test_who_trusts_the_authority_trusts_the_station(
    tmp_path: Path, asked: str, trusted: bool
) -> None:
    made = local_certificate(tmp_path, NAMES, now())
    assert shakes_hands(tmp_path, made, asked) is trusted


def test_what_is_good_is_kept_and_what_is_not_is_made_anew(tmp_path: Path) -> None:
    at = now()
    made = local_certificate(tmp_path, NAMES, at)
    first = made.certificate.read_bytes()
    authority = authority_file(tmp_path).read_bytes()
    assert local_certificate(tmp_path, NAMES, at).certificate.read_bytes() == first
    later = local_certificate(tmp_path, NAMES, at + timedelta(days=350))
    assert later.certificate.read_bytes() != first
    other = local_certificate(tmp_path, ["booth.lan"], at)
    assert names_of(other.certificate) == ("booth.lan",)
    assert authority_file(tmp_path).read_bytes() == authority
    assert shakes_hands(tmp_path, other, "booth.lan")


def test_only_the_owner_reads_the_keys(tmp_path: Path) -> None:
    local_certificate(tmp_path, NAMES, now())
    for name in ("authority.key", "station.key"):
        assert stat.S_IMODE((tmp_path / "tls" / name).stat().st_mode) == 0o600
    assert stat.S_IMODE((tmp_path / "tls").stat().st_mode) == 0o700


@pytest.mark.parametrize("name", ["example.org", "8.8.8.8", "lan.example", "evil-lan"])
def test_a_name_on_the_internet_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(Invalid, match="get a certificate that browsers trust"):
        local_certificate(tmp_path, [name], now())


def test_a_browser_takes_the_certificate_for_no_longer_than_it_is_made(tmp_path: Path) -> None:
    made = local_certificate(tmp_path, NAMES, now())
    certificate = x509.load_pem_x509_certificate(made.certificate.read_bytes())
    lasts = certificate.not_valid_after_utc - certificate.not_valid_before_utc
    assert lasts <= timedelta(days=397)


def test_an_authority_with_another_key_is_refused_and_not_replaced(tmp_path: Path) -> None:
    local_certificate(tmp_path, NAMES, now())
    before = authority_file(tmp_path).read_bytes()
    key = tmp_path / "tls" / "authority.key"
    key.write_bytes((tmp_path / "tls" / "station.key").read_bytes())
    with pytest.raises(Damaged, match="does not belong to the authority"):
        local_certificate(tmp_path, NAMES, now())
    key.unlink()
    with pytest.raises(Damaged, match="does not belong to the authority"):
        local_certificate(tmp_path, NAMES, now())
    assert authority_file(tmp_path).read_bytes() == before


def test_its_fingerprint_is_that_of_its_bytes(tmp_path: Path) -> None:
    import hashlib

    with pytest.raises(NotFound, match="no certificates of its own"):
        authority_file(tmp_path)
    local_certificate(tmp_path, NAMES, now())
    der = ssl.PEM_cert_to_DER_cert(authority_file(tmp_path).read_text())
    assert fingerprint_of(authority_file(tmp_path)).replace(" ", "") == (
        hashlib.sha256(der).hexdigest().upper()
    )


def test_a_file_that_is_no_certificate_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "mine.pem"
    path.write_text("nothing of the kind")
    with pytest.raises(Invalid, match=r"mine\.pem does not"):
        names_of(path)
