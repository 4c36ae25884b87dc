"""The sockets that are served: this machine's own, and one in the network at home that no guest can fill up."""

from __future__ import annotations

import socket
from contextlib import suppress
from typing import Any

from ribwright.errors import ServeError
from ribwright.services.network import source_of

MOST_EACH = 48
"""Connections of one machine at once: a browser keeps six, and a repeater stands for several phones."""

MOST_TOGETHER = 256
"""Of all machines on one listener; far below the files that an ordinary system lets a program have open."""


class HomeListener(socket.socket):
    """A listening socket in the network at home.

    A server takes every connection that comes and waits for what it says. A guest who opens thousands and says
    nothing would use up the files that a program may have open, and then the laptop's own browser finds the
    door shut. Here the oldest connection of whoever holds most has to go instead.
    """

    def __init__(
        self, family: int, *, most_each: int = MOST_EACH, most_together: int = MOST_TOGETHER
    ) -> None:
        super().__init__(family, socket.SOCK_STREAM)
        self._most_each, self._most_together = most_each, most_together
        self._held: dict[str, list[socket.socket]] = {}

    def accept(self) -> tuple[socket.socket, Any]:
        """The next connection; for it, one of a machine that holds too many may be ended."""
        made, address = super().accept()
        source = source_of(str(address[0]))
        for who in list(self._held):
            self._held[who] = [one for one in self._held[who] if one.fileno() >= 0]
            if not self._held[who]:
                del self._held[who]
        self._held.setdefault(source, []).append(made)
        if len(self._held[source]) > self._most_each:
            self._end_oldest(source)
        elif sum(len(held) for held in self._held.values()) > self._most_together:
            self._end_oldest(max(self._held, key=lambda who: len(self._held[who])))
        return made, address

    def _end_oldest(self, source: str) -> None:
        # not closed here: whoever reads from it is told that it ended, and closes it
        with suppress(OSError):
            self._held[source].pop(0).shutdown(socket.SHUT_RDWR)


def listener(address: str, port: int, option: str, *, home: bool = False) -> socket.socket:
    """A socket bound to an address of this machine.

    Args:
        address: to listen at.
        port: to listen at.
        option: by which the port was given; an error names it.
        home: for machines in the network at home, of which none may take all the places.

    Raises:
        ServeError: the port is taken or not allowed, or the address is not this machine's.
    """
    if not 0 < port < 65536:
        raise ServeError(option, found=port, allowed="1 to 65535")
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    made = HomeListener(family) if home else socket.socket(family, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    # asyncio sets this only where a socket names its protocol; without it each short page waits 40 ms for an
    # acknowledgement that the browser delays
    made.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    try:
        made.bind((address, port))
    except OSError as error:
        made.close()
        raise ServeError(
            option, found=f"{address}, {port}: {error.strerror}", allowed="a port that is free, an address of this machine",
            mend=f"Try {option} {port + 1}.",
        ) from None  # fmt: skip
    return made
