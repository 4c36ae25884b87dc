"""Links to other machines: a database, workers. Encrypted and with both sides known, unless they stay here."""

from __future__ import annotations

import ipaddress
import ssl
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

from ribwright.errors import FormatError, MissingError, ServeError

PROVEN = "verify-full"


def checked_database(url: str) -> str:
    """A database's address whose link nobody can listen in to.

    Args:
        url: ``postgresql://user@host/name``, with ``#project-id`` or without.

    Raises:
        ServeError: no such address, or a database on another machine that is not asked to prove itself.
    """
    try:
        parts = urlsplit(url.partition("#")[0])
        host = parts.hostname or ""
        asked = parse_qs(parts.query)
        _ = parts.port
    except ValueError:
        host, asked, parts = "", {}, urlsplit("")
    if parts.scheme not in ("postgresql", "postgres"):
        raise ServeError("--database", found="no such address", allowed="postgresql://user@host/name")
    hosts = [
        one for said in [host, *asked.get("host", []), *asked.get("hostaddr", [])] for one in said.split(",")
    ]
    if any(not stays_here(one) for one in hosts) and asked.get("sslmode", [""])[-1] != PROVEN:
        raise ServeError(
            "--database",
            because="a database on another machine must be reached by an encrypted link",
            found=f"sslmode {asked.get('sslmode', ['not given'])[-1]}",
            allowed=PROVEN,
            mend=f"Add ?sslmode={PROVEN}&sslrootcert=FILE to the address",
        )
    return url


def checked_scheduler(url: str, *, ca: Path | None, certificate: Path | None, key: Path | None) -> str:
    """The address of the workers' scheduler, with the files that its link needs.

    Args:
        url: ``tls://host:port``, or ``tcp://127.0.0.1:port`` on this machine.
        ca: certificate of the authority that signed both sides.
        certificate: of this side.
        key: of this side.

    Raises:
        ServeError: no such address, or ``tcp`` to another machine.
        MissingError: ``tls`` without one of its three files. FormatError: one of them is no certificate or no key of it.
    """
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError:
        parts, port = urlsplit(""), None
    if parts.scheme not in ("tls", "tcp") or not parts.hostname or not port:
        raise ServeError("--scheduler", found=url, allowed="tls://host:port, or tcp://127.0.0.1:port")
    if parts.scheme == "tcp":
        if not stays_here(parts.hostname):
            raise ServeError(
                "--scheduler",
                because="workers on another machine must be reached by an encrypted link",
                found=url,
                allowed="tls://host:port",
                mend="Give tls:// and the three certificate files",
            )
        return url
    for option, file in (
        ("--workers-ca", ca),
        ("--workers-certificate", certificate),
        ("--workers-key", key),
    ):
        if file is None:
            raise MissingError(option, mend=f"Give {option} FILE with {url}")
        try:
            file.open("rb").close()
        except PermissionError as error:
            raise MissingError(
                option,
                because="this user may not read it",
                found=file,
                mend="Make it readable for this user alone",
            ) from error
        except OSError as error:
            raise MissingError(
                option, because="there is no such file", found=file, mend=f"Give {option} FILE with {url}"
            ) from error
    assert ca is not None
    assert certificate is not None
    _check_readable(ca, certificate, key)
    return url


def _check_readable(ca: Path, certificate: Path, key: Path | None) -> None:
    context = ssl.create_default_context()
    try:
        context.load_verify_locations(ca)
    except (ssl.SSLError, OSError) as error:
        raise FormatError("--workers-ca", found=ca, allowed="a certificate in PEM form") from error
    try:
        context.load_cert_chain(certificate, key, password="")  # else it would ask at the terminal
    except (ssl.SSLError, OSError) as error:
        raise FormatError(
            "--workers-certificate",
            found=f"{certificate} with {key}",
            allowed="a certificate in PEM form, with its own key without a password",
        ) from error


def stays_here(host: str) -> bool:
    """Whether a host's name never leaves this machine: a socket's folder, or a loopback address."""
    if not host or host.startswith(("/", "@")) or host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
