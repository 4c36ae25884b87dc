"""Options that many commands share: which project, who acts, one request id a call, JSON."""

from __future__ import annotations

import functools
import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

F = TypeVar("F", bound=Callable[..., Any])

project_option = click.option(
    "--project",
    metavar="DIR",
    help="The project folder; else RIBWRIGHT_PROJECT, the nearest folder above, or the one ./run made.",
)
as_json_option = click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")


def with_workers(function: F) -> F:
    """Adds ``--scheduler`` and the files of its link; heavy work within the command goes to its workers."""

    @click.option(
        "--scheduler", metavar="URL", help="Workers for heavy work: tls://host:port; else it is done here."
    )
    @click.option(
        "--workers-ca", type=click.Path(path_type=Path), help="With tls://: certificate of the authority."
    )
    @click.option(
        "--workers-certificate", type=click.Path(path_type=Path), help="With tls://: this machine's own."
    )
    @click.option("--workers-key", type=click.Path(path_type=Path), help="With tls://: the key of that.")
    @functools.wraps(function)
    def wrapped(
        *args: Any,
        scheduler: str | None,
        workers_ca: Path | None,
        workers_certificate: Path | None,
        workers_key: Path | None,
        **kwargs: Any,
    ) -> Any:
        from ribwright.services import compute

        with compute.workers(scheduler, ca=workers_ca, certificate=workers_certificate, key=workers_key):
            return function(*args, **kwargs)

    return wrapped  # type: ignore[return-value]


def acting(function: F) -> F:
    """Adds ``--by`` and ``--role``; the command gets ``who`` (an actor) and ``request`` (an id for this one call)."""
    return acting_as("who")(function)


def acting_as(name: str) -> Callable[[F], F]:
    """As ``acting``, under another name of the command's parameter."""

    def decorate(function: F) -> F:
        @click.option("--by", default="builder", show_default=True, help="Who acts, by name.")
        @click.option(
            "--role",
            default="builder",
            show_default=True,
            type=click.Choice(["builder", "helper", "adviser", "inspector"]),
            help="In which capacity.",
        )
        @click.option("--request", "request", metavar="ID", help="The same id sent twice counts once.")
        @functools.wraps(function)
        def wrapped(*args: Any, by: str, role: str, request: str | None, **kwargs: Any) -> Any:
            from ribwright.services.project import Actor

            kwargs[name] = Actor(by, role)
            return function(*args, request=request or f"cli-{secrets.token_hex(12)}", **kwargs)

        return wrapped  # type: ignore[return-value]

    return decorate
