"""HTTPS: the shop's own certificate, or one made here for this machine's names."""

from __future__ import annotations

import hashlib
import ipaddress
import os
import ssl
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from server.settings import Refusal

LIFE = timedelta(days=397)  # the longest that browsers take
RENEW_BEFORE = timedelta(days=30)


class CertificateRefused(Refusal):
    """HTTPS can't start; the message says why and what to do."""


@dataclass(frozen=True)
class Certificate:
    certificate: Path
    key: Path

    def fingerprint(self) -> str:
        """SHA-256 as browsers show it, to compare by eye on the device."""
        pem = self.certificate.read_text()
        first = pem[: pem.index("-----END CERTIFICATE-----") + 25]
        digest = hashlib.sha256(ssl.PEM_cert_to_DER_cert(first)).hexdigest().upper()
        return ":".join(digest[i : i + 2] for i in range(0, len(digest), 2))


def checked(certificate: Path, key: Path) -> Certificate:
    """The shop's own pair of files.  Raises CertificateRefused where they can't be used."""
    for file in (certificate, key):
        if not file.is_file():
            raise CertificateRefused(f"There is no file {file}.")
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key, password="")
    except (ssl.SSLError, OSError, ValueError) as error:
        raise CertificateRefused(
            f"{certificate.name} and {key.name} can't be used together ({error}). Give a PEM "
            "certificate and its own key, without a password."
        ) from error
    return Certificate(certificate, key)


def self_made(folder: Path, names: tuple[str, ...], now: datetime) -> Certificate:
    """A certificate for these names in folder: the one made before while it still serves,
    else a new one.  Raises CertificateRefused where it can't be made."""
    try:
        from cryptography import x509
    except ImportError as error:
        raise CertificateRefused(
            "Making a certificate needs the “https” extra: pip install 'midlimit[https]'. Or "
            "bring your own with --certificate and --key."
        ) from error
    made = Certificate(folder / "self-made.crt", folder / "self-made.key")
    if made.certificate.is_file() and made.key.is_file():
        try:
            known = x509.load_pem_x509_certificate(made.certificate.read_bytes())
        except ValueError:
            known = None
        if known is not None and still_serves(known, names, now):
            return checked(made.certificate, made.key)
    write(made, names, now)
    return checked(made.certificate, made.key)


def still_serves(known: Any, names: tuple[str, ...], now: datetime) -> bool:
    from cryptography import x509

    alternative = known.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    covered = {str(each.value) for each in alternative}
    in_time = known.not_valid_before_utc <= now <= known.not_valid_after_utc - RENEW_BEFORE
    return in_time and set(names) <= covered


def write(made: Certificate, names: tuple[str, ...], now: datetime) -> None:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    title = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Midlimit on this machine")])
    built = (
        x509.CertificateBuilder()
        .subject_name(title)
        .issuer_name(title)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + LIFE)
        .add_extension(x509.SubjectAlternativeName([name_in(each) for each in names]), False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), False)
        .sign(key, hashes.SHA256())
    )
    private = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    try:
        made.key.parent.mkdir(parents=True, exist_ok=True)
        put(made.key, private, 0o600)
        put(made.certificate, built.public_bytes(serialization.Encoding.PEM), 0o644)
    except OSError as error:
        raise CertificateRefused(
            f"The certificate can't be written to {made.key.parent} ({error.strerror})."
        ) from error


def put(file: Path, content: bytes, mode: int) -> None:
    """The whole file or none of it, never readable by more than mode says."""
    draft = file.with_suffix(file.suffix + ".new")
    draft.unlink(missing_ok=True)
    with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as opened:
        opened.write(content)
        opened.flush()
        os.fsync(opened.fileno())
    draft.replace(file)


def name_in(text: str) -> Any:
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(text))
    except ValueError:
        return x509.DNSName(text)
