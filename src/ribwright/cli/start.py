"""``ribwright start``: what ./run does after setting up."""

from __future__ import annotations

import secrets
import time
from pathlib import Path

import click

FOLDER = "dunlin"
ASSEMBLIES = ("DN-21", "DN-22")
OWN_BUILDER = "builder"


@click.command()
@click.option("--no-serve", is_flag=True, help="Stop before serving the app.")
@click.option(
    "--fresh", is_flag=True, help="Start the demonstration again; the old folder is kept beside it."
)
@click.option("--port", default=8370, show_default=True, help="Port to serve on.")
@click.option("--folder", default=FOLDER, show_default=True, help="Folder of the demonstration project.")
@click.option(
    "--own",
    metavar="FOLDER",
    help="Serve your own project there instead; it is made, empty, where there is none.",
)
def start(no_serve: bool, fresh: bool, port: int, folder: str, own: str | None) -> None:
    """Make the Dunlin, work an evening on its left aileron, write the packets, serve the app."""
    from ribwright.cli.serve import serve_project
    from ribwright.services.bench import next_on_bench
    from ribwright.services.dunlin import make_dunlin
    from ribwright.services.evening import BUILDER, work_an_evening
    from ribwright.services.flap import close_left_flap
    from ribwright.services.packet import make_packet
    from ribwright.services.photo_measure import warm
    from ribwright.services.project import is_project, open_project, remember_project
    from ribwright.services.record import check, seal

    if own is not None:
        if fresh:
            raise click.UsageError("--fresh starts the demonstration again; it does not go with --own.")
        if not own.strip():
            raise click.UsageError("--own needs the name of a folder, such as my-aeroplane.")
        target = _own_project(own)
        if not no_serve:
            serve_project(target, port=port, by=OWN_BUILDER)
        return
    target = Path(folder).resolve()
    if fresh and is_project(target):
        number = 1
        while (kept := target.with_name(f"{target.name}-before-{number}")).exists():
            number += 1
        target.rename(kept)
        click.echo(f"The old demonstration is kept in {kept}.", err=True)
    began = time.monotonic()
    new = not is_project(target)
    if new:
        click.echo("Making the Dunlin …", err=True)
        make_dunlin(
            target,
            actor=BUILDER,
            request_id="demonstration",
            progress=lambda line: click.echo(f"  {line}", err=True),
        ).close()
    remember_project(target)
    warm()  # what measures photos is compiled now, not while somebody waits for the first one
    with open_project(target) as project:
        if new:
            evening = work_an_evening(project, actor=BUILDER)
            found = close_left_flap(project, actor=BUILDER)
            click.echo(f"Left flap closed; {found} was found in it, mended and settled before.")
            not_good = [f for f in evening.findings if f.verdict.value != "within limits"]
            said = (
                f"Seam {evening.seam}: {len(evening.findings)} readings, {len(not_good)} not within limits."
            )
            if evening.action is not None:
                said += "".join(f" Replace rivet {hole}." for hole in evening.action.replace)
                said += "".join(f" Set rivet {hole} a little more." for hole in evening.action.set_again)
            click.echo(said)
        for ref in ASSEMBLIES:
            path = target / "packets" / f"{ref}.pdf"
            if not path.exists():
                click.echo(f"Writing the packet of {ref} …", err=True)
                made = make_packet(project, ref)
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(made.pdf)
                for name, content in made.dxf.items():
                    (path.parent / f"{name}.dxf").write_bytes(content)
                click.echo(f"{ref}: {len(made.lines)} sheets, templates and worksheets.")
            click.echo(f"Packet: {path}")
        report = check(project)
        bench = next_on_bench(project)
        click.echo(
            f"Record: {report.entries} entries, {'each in its place' if report.ok else 'NOT IN ORDER'}; seal {seal(project)[:20]}"
        )
        click.echo(
            f"Next on the bench: {len(bench.ready)} stages can be done now, {bench.done} of {bench.stages} finished."
        )
        for line in bench.ready[:3]:
            click.echo(f"  {line.ref} {line.stage}: {line.title}")
        click.echo(f"Project: {target}   ({time.monotonic() - began:.0f} s)")
        click.echo("Your own aeroplane, later: ./run --own my-aeroplane")
    if not no_serve:
        serve_project(target, port=port, by=BUILDER.name)


def _own_project(folder: str) -> Path:
    """The builder's own project in a folder: made, empty, where there is none; never changed where there is one."""
    from ribwright.services.photo_measure import warm
    from ribwright.services.project import Actor, create_project, is_project, remember_project

    target = Path(folder).expanduser().resolve()
    if not is_project(target):
        name = target.name.replace("-", " ").replace("_", " ").strip().capitalize() or target.name
        create_project(
            target, name=name, actor=Actor(OWN_BUILDER), request_id=f"own-{secrets.token_hex(8)}"
        ).close()
        click.echo(f"Made, empty: {target}")
    remember_project(target)
    warm()
    click.echo(f"Project: {target}")
    return target
