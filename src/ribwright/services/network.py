"""Where the app can be reached: this machine's addresses and names in the home network."""

from __future__ import annotations

import ipaddress
import re
import socket
from contextlib import suppress
from dataclasses import dataclass

from ribwright.errors import ServeError

_LABEL = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?")
_SOMEWHERE_ELSE = ("192.0.2.1", 9)  # nothing is sent: connecting a datagram socket only picks the route


@dataclass(frozen=True, slots=True)
class Served:
    """How the app is served to the home network.

    Attributes:
        addresses: of this machine there, such as 192.168.1.20; the first is the one that is shown.
        names: of this machine there, such as ``garage.local``.
        port: of plain http.
        tls_port: of https; 0 without it.
        certificate: the local authority's public certificate (DER); empty without TLS.
        fingerprint: SHA-256 of that certificate, in pairs of digits.
    """

    addresses: tuple[str, ...]
    names: tuple[str, ...]
    port: int
    tls_port: int = 0
    certificate: bytes = b""
    fingerprint: str = ""

    @property
    def hosts(self) -> frozenset[str]:
        """Every name and address that a browser may call it by."""
        return frozenset((*self.addresses, *self.names))

    @property
    def url(self) -> str:
        """Where phones find the app."""
        scheme, port = ("https", self.tls_port) if self.tls_port else ("http", self.port)
        return f"{scheme}://{bracketed(self.addresses[0])}:{port}"

    @property
    def trust_url(self) -> str:
        """The plain page that walks a phone through trusting the certificate."""
        return f"http://{bracketed(self.addresses[0])}:{self.port}/trust"


def bracketed(address: str) -> str:
    """An address as it stands in a URL."""
    return f"[{address}]" if ":" in address else address


def home_addresses() -> tuple[str, ...]:
    """This machine's IPv4 addresses in the network at home; none when it is in no network.

    An address that the internet could reach is left out.
    """
    found: list[str] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, suppress(OSError):
        probe.connect(_SOMEWHERE_ELSE)
        found.append(probe.getsockname()[0])
    with suppress(OSError):
        found += [str(one[4][0]) for one in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return tuple(dict.fromkeys(one for one in found if _at_home(one)))


def home_names() -> tuple[str, ...]:
    """The names by which phones may find this machine: its own, and the same with ``.local``."""
    name = socket.gethostname().lower().partition(".")[0]
    return (name, f"{name}.local") if _LABEL.fullmatch(name) and name != "localhost" else ()


def checked_address(text: str) -> str:
    """An address to serve on, as given by hand.

    Raises:
        ServeError: not an address, this machine itself, or one that the internet can reach.
    """
    allowed = "an address of this machine in the network at home, such as 192.168.1.20"
    try:
        address = ipaddress.ip_address(text)
    except ValueError:
        raise ServeError("--address", found=text, allowed=allowed) from None
    if (
        address.is_global
        or address.is_unspecified
        or address.is_multicast
        or str(address) in ("127.0.0.1", "::1")
    ):
        raise ServeError("--address", found=text, allowed=allowed, because="the app is not served there")
    return str(address)


def checked_name(text: str) -> str:
    """A further name by which phones call this machine.

    Raises:
        ServeError: not a host name.
    """
    name = text.lower().rstrip(".")
    if not name or len(name) > 250 or not all(_LABEL.fullmatch(label) for label in name.split(".")):
        raise ServeError("--name", found=text, allowed="a host name, such as garage.local")
    if name == "localhost" or name.endswith(".localhost"):
        raise ServeError(
            "--name", found=text, allowed="a name that means this machine in the network at home"
        )
    return name


def source_of(address: str) -> str:
    """Who an address stands for: one machine has a whole /64 of IPv6 to itself."""
    try:
        read = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address[:80]
    if read.version == 4:
        return str(read)
    if read.ipv4_mapped is not None:
        return str(read.ipv4_mapped)
    return str(ipaddress.ip_network((read, 64), strict=False))


def _at_home(text: str) -> bool:
    address = ipaddress.ip_address(text)
    return not (address.is_loopback or address.is_global or address.is_link_local or address.is_unspecified)
