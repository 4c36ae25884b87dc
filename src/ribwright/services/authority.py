"""A certificate authority for this machine alone, and the certificate that it gives the app.

Phones give sensors, a lit screen and offline pages only to https. An authority of the builder's own makes
https possible without the internet. It is bound to the names and addresses that are served: whoever stole
its key could pose as this machine, and as nothing else. Another set of addresses (the hangar) has an
authority of its own, so that coming home finds the old one again.
"""

from __future__ import annotations

import hashlib
import ipaddress
import os
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from ribwright.errors import DiskError, FormatError
from ribwright.store.unfinished import being_made

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.hazmat.primitives.hashes import SHA256

AUTHORITY_DAYS = 5 * 365
LEAF_DAYS = 90
RENEWED_DAYS = 30
"""A leaf with fewer days left is made again when serving starts; an authority likewise, with a new one."""

_BACK = timedelta(days=1)  # a phone's clock may be behind


@dataclass(frozen=True, slots=True)
class Authority:
    """An authority and its leaf on disk.

    Attributes:
        folder: where the files lie.
        leaf_file: certificate and key of the app, PEM, readable by its owner alone.
        certificate: the authority's public certificate, DER: what a phone is asked to trust.
        fingerprint: SHA-256 of it, as phones show it.
        is_new: it was made just now, so no phone trusts it yet.
    """

    folder: Path
    leaf_file: Path
    certificate: bytes
    fingerprint: str
    is_new: bool


def default_keys_folder() -> Path:
    """Where this user's authorities lie."""
    settings = os.environ.get("XDG_CONFIG_HOME") or os.environ.get("APPDATA")
    return (Path(settings) if settings else Path.home() / ".config") / "ribwright" / "tls"


def authority_for(
    hosts: Sequence[str],
    *,
    keys: Path,
    outside: Path | None = None,
    now: datetime | None = None,
) -> Authority:
    """The authority for these names and addresses: found, or made; its leaf renewed when it is near its end.

    Args:
        hosts: names and addresses that are served.
        keys: folder of all authorities.
        outside: a project folder that the keys must not lie in.
        now: the time.

    Raises:
        FormatError: the folder lies in the project, or what lies there can't be read.
        DiskError: it can't be written.
    """
    at = now or datetime.now(UTC)
    if outside is not None and keys.resolve().is_relative_to(outside.resolve()):
        raise FormatError(
            "--keys", found=keys, because="whoever holds the project would hold the keys as well",
            mend="Keep the keys outside the project folder",
        )  # fmt: skip
    names = sorted(set(hosts))
    folder = keys / hashlib.sha256("\n".join(names).encode()).hexdigest()[:16]
    try:
        made = not folder.exists()
        if not made and _ends(folder / "authority.crt") < at + timedelta(days=RENEWED_DAYS):
            folder.rename(folder.with_name(f"{folder.name}-ended-{secrets.token_hex(4)}"))
            made = True
        if made:
            _make(folder, names, at)
        leaf = folder / "leaf.pem"
        if not leaf.exists() or _ends(leaf) < at + timedelta(days=RENEWED_DAYS):
            _renew(folder, names, at)
        certificate = _der(folder / "authority.crt")
    except OSError as error:
        raise DiskError("--keys", found=f"{folder}: {error.strerror or error}") from error
    except ValueError as error:
        raise FormatError(
            "--keys", found=folder, because="its certificate or key can't be read",
            mend="Remove that folder; a new authority is made, and phones must trust it anew",
        ) from error  # fmt: skip
    digits = hashlib.sha256(certificate).hexdigest().upper()
    pairs = ":".join(digits[n : n + 2] for n in range(0, 64, 2))
    return Authority(folder, leaf, certificate, pairs, made)


def _make(folder: Path, names: list[str], at: datetime) -> None:
    """Authority and leaf appear at once, so that a crash leaves neither half nor a key without its owner."""
    from cryptography import x509
    from cryptography.hazmat.primitives import serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    folder.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with being_made(folder, 0o700) as making:
        key = ec.generate_private_key(ec.SECP256R1())
        shown = next((name for name in names if name.endswith(".local")), names[0])
        called = _name(f"Ribwright, {shown[:30]}, {at:%Y-%m-%d}")
        dns = [x509.DNSName(name) for name in names if not _is_address(name)]
        nets = [x509.IPAddress(ipaddress.ip_network(name)) for name in names if _is_address(name)]
        # a kind of name that is not listed would be allowed wholly: shut it off instead
        everything = (ipaddress.ip_network("0.0.0.0/0"), ipaddress.ip_network("::/0"))
        shut = [
            *([] if dns else [x509.DNSName("")]),
            *([] if nets else [x509.IPAddress(net) for net in everything]),
        ]
        authority = (
            _builder(called, called, key, at, AUTHORITY_DAYS, issuer_key=key)
            .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
            .add_extension(_usage(authority=True), critical=True)
            .add_extension(x509.NameConstraints([*dns, *nets], shut or None), critical=True)
            .sign(key, _sha256())
        )
        _write_private(
            making / "authority.key",
            key.private_bytes(
                serialization.Encoding.PEM,
                serialization.PrivateFormat.PKCS8,
                serialization.NoEncryption(),
            ),
        )
        (making / "authority.crt").write_bytes(authority.public_bytes(serialization.Encoding.PEM))
        _renew(making, names, at)
        try:
            making.rename(folder)
        except OSError:
            if not folder.exists():  # another start of the program was quicker; its authority is used
                raise


def _renew(folder: Path, names: list[str], at: datetime) -> None:
    from cryptography import x509
    from cryptography.hazmat.primitives import serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID

    authority = x509.load_pem_x509_certificate((folder / "authority.crt").read_bytes())
    signer = serialization.load_pem_private_key((folder / "authority.key").read_bytes(), None)
    if not isinstance(signer, ec.EllipticCurvePrivateKey) or signer.public_key() != authority.public_key():
        raise ValueError("the key is not the authority's")
    key = ec.generate_private_key(ec.SECP256R1())
    served = [
        x509.IPAddress(ipaddress.ip_address(name)) if _is_address(name) else x509.DNSName(name)
        for name in names
    ]
    leaf = (
        _builder(
            _name(f"Ribwright, {names[0][:40]}"), authority.subject, key, at, LEAF_DAYS, issuer_key=signer
        )
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(authority=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(served), critical=False)
        .sign(signer, _sha256())
    )
    plain = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    making = folder / f".leaf-{secrets.token_hex(4)}"
    _write_private(making, leaf.public_bytes(serialization.Encoding.PEM) + plain)
    os.replace(making, folder / "leaf.pem")


def _builder(
    subject: x509.Name,
    issuer: x509.Name,
    key: EllipticCurvePrivateKey,
    at: datetime,
    days: int,
    *,
    issuer_key: EllipticCurvePrivateKey,
) -> x509.CertificateBuilder:
    from cryptography import x509

    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - _BACK)
        .not_valid_after(at + timedelta(days=days))
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer_key.public_key()), critical=False
        )
    )


def _usage(*, authority: bool) -> x509.KeyUsage:
    from cryptography import x509

    return x509.KeyUsage(
        digital_signature=not authority, key_cert_sign=authority, crl_sign=authority, content_commitment=False,
        key_encipherment=False, data_encipherment=False, key_agreement=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip


def _name(text: str) -> x509.Name:
    from cryptography import x509
    from cryptography.x509.oid import NameOID

    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])


def _sha256() -> SHA256:
    from cryptography.hazmat.primitives.hashes import SHA256

    return SHA256()


def _ends(path: Path) -> datetime:
    from cryptography import x509

    return x509.load_pem_x509_certificate(path.read_bytes()).not_valid_after_utc


def _der(path: Path) -> bytes:
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import Encoding

    return x509.load_pem_x509_certificate(path.read_bytes()).public_bytes(Encoding.DER)


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _write_private(path: Path, content: bytes) -> None:
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())
