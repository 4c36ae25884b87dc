"""``ribwright serve``: the app on this machine."""

from __future__ import annotations

import importlib
from typing import Any

import click

from ribwright.cli.options import project_option


@click.command()
@click.option("--port", default=8370, show_default=True, help="Port to serve on.")
@click.option("--by", default="builder", show_default=True, help="Name of the person at this machine.")
@project_option
def serve(port: int, by: str, project: str | None) -> None:
    """Serve the app on 127.0.0.1 until it is stopped with Ctrl-C."""
    serve_project(project, port=port, by=by)


def serve_project(where: Any, *, port: int, by: str) -> None:
    """Open the project and serve it; a taken port is a sentence.

    Raises:
        ServeError: the port is taken or not allowed.
    """
    import socket

    import uvicorn

    from ribwright.errors import ServeError
    from ribwright.services.project import Actor, find_project, open_project

    # command line and pages don't know each other: the app is named, as the commands are in GROUPS
    create_app = importlib.import_module("ribwright.web.app").create_app

    if not 0 < port < 65536:
        raise ServeError("--port", found=port, allowed="1 to 65535")
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(("127.0.0.1", port))
    except OSError as error:
        listener.close()
        raise ServeError(
            "--port",
            found=f"{port}: {error.strerror}",
            allowed="a port that is free",
            mend=f"Try --port {port + 1}.",
        ) from None
    with open_project(find_project(where)) as opened:
        app = create_app(opened, actor=Actor(by), report=lambda text: click.echo(text, err=True))
        click.echo(f"http://127.0.0.1:{port}/  (Ctrl-C stops it)")
        server = uvicorn.Server(
            uvicorn.Config(app, log_level="warning", lifespan="off", access_log=False, server_header=False, timeout_graceful_shutdown=1)
        )
        server.run(sockets=[listener])
