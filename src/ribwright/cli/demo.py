"""``ribwright demo``: the demonstration aeroplane in a folder of its own."""

from __future__ import annotations

import click


@click.command()
@click.argument("folder")
@click.option("--scale", default=1, show_default=True, help="So many aeroplanes (benchmarks use 10 and 100).")
@click.option("--seed", default=1, show_default=True, help="Moves hours, lots and stock a little.")
def demo(folder: str, scale: int, seed: int) -> None:
    """Make the Dunlin, the fictional two-seat aeroplane of the demonstration, in FOLDER."""
    from ribwright.services.dunlin import make_dunlin
    from ribwright.services.project import Actor
    from ribwright.services.record import count_objects

    with make_dunlin(
        folder,
        actor=Actor("the builder"),
        request_id=f"demo-{seed}-{scale}",
        scale=scale,
        seed=seed,
        progress=lambda line: click.echo(line, err=True),
    ) as project:
        counts = count_objects(project)
        click.echo(
            f"{counts.get('part', 0)} parts and {counts.get('operation', 0)} operations in {project.where}."
        )
