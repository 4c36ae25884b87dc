"""``ribwright serve``: the app on this machine, and for phones at home."""

from __future__ import annotations

import importlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ribwright.cli.options import project_option, with_workers

if TYPE_CHECKING:
    from ribwright.services.network import Served


@click.command()
@click.option("--port", default=8370, show_default=True, help="Port to serve on.")
@click.option("--by", default="builder", show_default=True, help="Name of the person at this machine.")
@click.option(
    "--lan", is_flag=True, help="Let phones at home in too; each is paired on the page Who may come in."
)
@click.option("--tls", is_flag=True, help="With --lan: a secure connection, by a certificate made here.")
@click.option("--tls-port", type=int, help="Port of the secure connection; else the one after --port.")
@click.option(
    "--address", "addresses", multiple=True, help="Address of this machine at home; else it is found."
)
@click.option("--name", "names", multiple=True, help="Further name by which phones call this machine.")
@click.option(
    "--keys", type=click.Path(path_type=Path), help="Folder of the certificates; else the user's own."
)
@click.option(
    "--database",
    metavar="URL",
    help="A project in PostgreSQL: postgresql://user@host/name#project-id; without # the advisers' pages alone.",
)
@with_workers
@project_option
def serve(
    port: int,
    by: str,
    lan: bool,
    tls: bool,
    tls_port: int | None,
    addresses: tuple[str, ...],
    names: tuple[str, ...],
    keys: Path | None,
    database: str | None,
    project: str | None,
) -> None:
    """Serve the app until it is stopped with Ctrl-C.

    On 127.0.0.1 only; with --lan also for paired phones in the network at home. Over plain http these can
    enter and look, but not sign and not close a space; with --tls they do everything.
    """
    if not lan and (tls or tls_port or addresses or names or keys):
        raise click.UsageError("--tls, --tls-port, --address, --name and --keys go with --lan.")
    if database is not None:
        from ribwright.services.links import checked_database

        if project is not None:
            raise click.UsageError("Give --database or --project, not both.")
        project = checked_database(database)
        if "#" not in database:
            if lan:
                raise click.UsageError(
                    "--lan goes with a build: add # and its id to --database. Advisers come in at /adviser/ there."
                )
            click.echo("No build is named, so the advisers' pages alone are served.")
            serve_desk(database, adviser="", port=port)
            return
    second = (tls_port or port + 1) if tls else 0
    serve_project(
        project, port=port, by=by, lan=lan, tls_port=second, addresses=addresses, names=names, keys=keys
    )


def serve_desk(database: str, *, adviser: str, port: int) -> None:
    """The advisers' pages alone, on this machine.

    Args:
        database: of many builds.
        adviser: who sits here and needs no key; "" for whoever signs in.
        port: to serve on.

    Raises:
        ServeError: the port is taken, or the link to the database is open to others.
        StoreError: the database isn't there.
    """
    from contextlib import ExitStack

    import uvicorn

    from ribwright.cli.serve_listener import listener
    from ribwright.cli.serve_memory import keep_memory_at_rest

    keep_memory_at_rest()
    create_adviser_app = importlib.import_module("ribwright.web.adviser").create_adviser_app
    with ExitStack() as stack:
        app = create_adviser_app(
            database, adviser=adviser, stack=stack, report=lambda text: click.echo(text, err=True)
        )
        socket = listener("127.0.0.1", port, "--port")
        click.echo(f"http://127.0.0.1:{port}/adviser/  (Ctrl-C stops it)")
        config = uvicorn.Config(
            app, log_level="warning", lifespan="off", access_log=False, server_header=False, proxy_headers=False, ws="none",
            timeout_graceful_shutdown=1,
        )  # fmt: skip
        uvicorn.Server(config).run(sockets=[socket])


def serve_project(
    where: Any,
    *,
    port: int,
    by: str,
    lan: bool = False,
    tls_port: int = 0,
    addresses: tuple[str, ...] = (),
    names: tuple[str, ...] = (),
    keys: Path | None = None,
) -> None:
    """Open the project and serve it; a taken port is a sentence.

    Args:
        where: the project folder or URL, or None.
        port: of plain http.
        by: who acts at this machine.
        lan: also for paired phones at home.
        tls_port: of https there; 0 without.
        addresses, names: of this machine there; found when empty, names in addition.
        keys: folder of the certificates.

    Raises:
        ServeError: the port is taken or not allowed, or this machine is in no network at home.
    """
    import asyncio
    import gc
    import logging

    from ribwright.cli.serve_memory import keep_memory_at_rest

    keep_memory_at_rest()
    # a form that is no form is answered to whoever sent it, and is no news for the builder
    logging.getLogger("python_multipart").setLevel(logging.ERROR)

    import uvicorn

    from ribwright.cli.serve_listener import listener
    from ribwright.services.authority import authority_for, default_keys_folder
    from ribwright.services.network import Served, checked_address, checked_name, home_addresses, home_names
    from ribwright.services.passing import take_away_what_was_left
    from ribwright.services.project import Actor, find_project, open_project

    take_away_what_was_left()
    # command line and pages don't know each other: the app is named, as the commands are in GROUPS
    create_app = importlib.import_module("ribwright.web.app").create_app

    at = tuple(checked_address(one) for one in addresses) or (home_addresses() if lan else ())
    called = tuple(dict.fromkeys((*(checked_name(one) for one in names), *home_names()))) if lan else ()
    if lan and not at:
        from ribwright.errors import ServeError

        raise ServeError(
            "--lan", because="this machine is in no network at home", mend="Join one, or give --address"
        )
    plain = [listener("127.0.0.1", port, "--port"), *(listener(one, port, "--port", home=True) for one in at)]
    secure = [listener(one, tls_port, "--tls-port", home=True) for one in at] if tls_port else []
    with open_project(find_project(where)) as opened:
        served: Served | None = None
        leaf: Path | None = None
        if lan and tls_port:
            made = authority_for((*at, *called), keys=keys or default_keys_folder(), outside=opened.folder)
            leaf = made.leaf_file
            served = Served(at, called, port, tls_port, made.certificate, made.fingerprint)
            if made.is_new:
                click.echo(f"A new certificate was made in {made.folder}; no phone trusts it yet.")
        elif lan:
            served = Served(at, called, port)
        app = create_app(
            opened,
            actor=Actor(by),
            report=lambda text: click.echo(text, err=True),
            served=served,
            whole=False,
        )
        click.echo(f"http://127.0.0.1:{port}/  (Ctrl-C stops it)")
        if served is not None:
            click.echo(f"Phones: {served.url}/  Invite them at http://127.0.0.1:{port}/phones")
        common: dict[str, Any] = {
            "log_level": "error",  # what a stranger sends that is no request at all is no news for the builder
            "backlog": 128,  # also how many are accepted at one go, before the others are answered
            "lifespan": "off",
            "access_log": False,
            "server_header": False,
            "proxy_headers": False,
            "ws": "none",
            "timeout_graceful_shutdown": 1,
        }
        servers = [(uvicorn.Server(uvicorn.Config(app, **common)), plain)]
        if leaf is not None:
            config = uvicorn.Config(app, ssl_certfile=str(leaf), ssl_keyfile=str(leaf), **common)
            servers.append((uvicorn.Server(config), secure))

        gc.freeze()

        async def both() -> None:
            await asyncio.gather(*(server.serve(sockets=sockets) for server, sockets in servers))

        asyncio.run(both())
