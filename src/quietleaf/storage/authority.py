"""The station's own certificates: an authority made once, and the certificate that it signs.

::

    tls/authority.crt   given to the computers of the station, which then trust it
    tls/authority.key   never leaves this folder; readable by its owner alone
    tls/station.crt     for the station's names, made anew before it runs out
    tls/station.key

The authority can sign for names of a local network alone: whoever steals its key cannot pretend
to be a bank to a computer that trusts it.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from quietleaf.errors import Damaged, Invalid, NotFound
from quietleaf.storage import disk

AUTHORITY_DAYS = 3_650
STATION_DAYS = 397
"""The longest that browsers take (CA/Browser Forum Baseline Requirements, 6.3.2)."""
RENEW_DAYS = 60
LOCAL_ENDINGS = ("local", "lan", "internal", "home.arpa", "localhost")
"""Names that are nobody's on the internet (RFC 6762, RFC 8375, RFC 6761; .internal: ICANN, 2024;
.lan: common practice, no source)."""
LOCAL_NETWORKS = (
    "10.0.0.0/8",
    "172.16.0.0/12",
    "192.168.0.0/16",
    "169.254.0.0/16",
    "127.0.0.0/8",
    "fc00::/7",
    "fe80::/10",
    "::1/128",
)
"""RFC 1918, RFC 3927, RFC 4193, RFC 4291."""
_SKEW = timedelta(hours=1)
"""Clocks of a local network differ; a certificate of this minute must hold on one that is late."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """A certificate and its key, as files."""

    certificate: Path
    key: Path


def local_certificate(data: Path, names: Sequence[str], now: datetime) -> Certificate:
    """Give the station's certificate for these names, signed by its own authority.

    What is there and still good is kept. The authority is made the first time and never again.

    Parameters
    ----------
    names : sequence of str
        Host names and addresses under which the station is asked for; at least one.
    now : datetime.datetime
        Aware UTC.

    Raises
    ------
    Invalid
        If a name is not one of a local network.
    Damaged
        If the authority's files are not as they were written.
    """
    folder = data / "tls"
    with disk.refusing(folder):
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    authority, authority_key = _authority(folder, now)
    certificate, key = folder / "station.crt", folder / "station.key"
    if not _still_good(certificate, key, names, authority, now):
        made_key = ec.generate_private_key(ec.SECP256R1())
        made = _signed(made_key, names, authority, authority_key, now)
        _keep_key(key, made_key)
        disk.replace_whole(certificate, made.public_bytes(serialization.Encoding.PEM))
    return Certificate(certificate=certificate, key=key)


def authority_file(data: Path) -> Path:
    """Name the certificate that the station's computers are given.

    Raises
    ------
    NotFound
        If this station has made none.
    """
    path = data / "tls" / "authority.crt"
    if not path.exists():
        raise NotFound(
            "tls/no-authority",
            "This station has no certificates of its own. `quietleaf run --tls` makes them.",
        )
    return path


def fingerprint_of(path: Path) -> str:
    """Give a certificate's SHA-256 in pairs of letters, as browsers and systems show it.

    Raises
    ------
    Damaged
        If the file is no certificate.
    """
    digest = _read_certificate(path).fingerprint(hashes.SHA256()).hex().upper()
    return " ".join(digest[at : at + 2] for at in range(0, len(digest), 2))


def names_of(path: Path) -> tuple[str, ...]:
    """Give the host names and addresses that a certificate is for.

    Raises
    ------
    NotFound
        If there is no such file.
    Invalid
        If it is no certificate, or names nobody.
    """
    try:
        certificate = _read_certificate(path)
        names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (Damaged, x509.ExtensionNotFound):
        raise Invalid(
            "tls/certificate",
            f"A certificate is a PEM file that names the station's host; {path.name} does not. "
            "Name the file that the authority gave you, the whole chain in it.",
        ) from None
    return (
        *names.get_values_for_type(x509.DNSName),
        *(_bracketed(str(address)) for address in names.get_values_for_type(x509.IPAddress)),
    )


def _authority(folder: Path, now: datetime) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    certificate, key = folder / "authority.crt", folder / "authority.key"
    if not certificate.exists():
        made_key = ec.generate_private_key(ec.SECP256R1())
        _keep_key(key, made_key)
        made = _self_signed(made_key, now)
        disk.replace_whole(certificate, made.public_bytes(serialization.Encoding.PEM))
    try:
        with disk.refusing(key):
            read = serialization.load_pem_private_key(key.read_bytes(), password=None)
    except (ValueError, NotFound) as fault:
        raise _broken_authority(key) from fault
    known = _read_certificate(certificate)
    if not isinstance(read, ec.EllipticCurvePrivateKey) or read.public_key() != known.public_key():
        raise _broken_authority(key)
    return known, read


def _self_signed(key: ec.EllipticCurvePrivateKey, now: datetime) -> x509.Certificate:
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Quietleaf, this station alone")])
    permitted: list[x509.GeneralName] = [x509.DNSName(ending) for ending in LOCAL_ENDINGS]
    permitted += [x509.IPAddress(ipaddress.ip_network(network)) for network in LOCAL_NETWORKS]
    return (
        _begun(name, name, key, now, AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .sign(key, hashes.SHA256())
    )


def _signed(
    key: ec.EllipticCurvePrivateKey,
    names: Sequence[str],
    authority: x509.Certificate,
    authority_key: ec.EllipticCurvePrivateKey,
    now: datetime,
) -> x509.Certificate:
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Quietleaf station")])
    return (
        _begun(name, authority.subject, key, now, STATION_DAYS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(
            x509.SubjectAlternativeName([_general(name) for name in names]), critical=False
        )
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key()),
            critical=False,
        )
        .sign(authority_key, hashes.SHA256())
    )


def _begun(
    name: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePrivateKey,
    now: datetime,
    days: int,
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _SKEW)
        .not_valid_after(now + timedelta(days=days) - _SKEW)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )


def _usage(*, signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs,
        crl_sign=signs,
        encipher_only=False,
        decipher_only=False,
    )


def _general(name: str) -> x509.GeneralName:
    plain = name.strip("[]").lower()
    try:
        address = ipaddress.ip_address(plain)
    except ValueError:
        if plain.rpartition(".")[2] in LOCAL_ENDINGS or plain.endswith(".home.arpa"):
            return x509.DNSName(plain)
    else:
        if any(address in ipaddress.ip_network(network) for network in LOCAL_NETWORKS):
            return x509.IPAddress(address)
    raise Invalid(
        "tls/name",
        f"The station's own certificates are for names of a local network, which end in "
        f"{', '.join('.' + ending for ending in LOCAL_ENDINGS)}, and for its addresses; {name!r} "
        "is none. For a name on the internet get a certificate that browsers trust, and give it "
        "with --certificate and --key.",
    )


def _still_good(
    certificate: Path,
    key: Path,
    names: Sequence[str],
    authority: x509.Certificate,
    now: datetime,
) -> bool:
    if not (certificate.exists() and key.exists()):
        return False
    try:
        known = _read_certificate(certificate)
    except Damaged:
        # It can be made anew.
        return False
    wanted = {_bracketed(name.strip("[]").lower()) for name in names}
    return (
        known.issuer == authority.subject
        and wanted == set(names_of(certificate))
        and now + timedelta(days=RENEW_DAYS) < known.not_valid_after_utc
    )


def _read_certificate(path: Path) -> x509.Certificate:
    with disk.refusing(path):
        text = path.read_bytes()
    try:
        return x509.load_pem_x509_certificate(text)
    except ValueError as fault:
        raise Damaged("tls/file", f"{path} is no certificate any more.") from fault


def _keep_key(path: Path, key: ec.EllipticCurvePrivateKey) -> None:
    text = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    disk.replace_whole(path, text, mode=0o600)


def _broken_authority(key: Path) -> Damaged:
    return Damaged(
        "tls/authority",
        f"{key} does not belong to the authority beside it, or cannot be read. Bring the folder "
        "tls back from a backup; or remove it, so that a new authority is made, which every "
        "computer must then be given.",
    )


def _bracketed(name: str) -> str:
    return f"[{name}]" if ":" in name else name
