"""``ribwright photo``: profiles and rivet rows measured from photos."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

import click

from ribwright.cli.app import emit
from ribwright.cli.options import as_json_option


@click.group("photo")
def group() -> None:
    """Measure from a photo: a profile on its card, a rivet row beside its strip."""


_input = click.option(
    "--input",
    "typed",
    required=True,
    metavar="INPUT.json",
    help="What was measured and typed beside the photo.",
)


@group.command("profile")
@click.argument("photo")
@click.option(
    "--card", required=True, metavar="LAYOUT.json", help="The card's layout, written with the sheet."
)
@_input
@click.option("--overlay", metavar="FILE.svg", help="Also write the picture with target, edge and deviation.")
@as_json_option
def profile(photo: str, card: str, typed: str, overlay: str | None, as_json: bool) -> None:
    """Measure the profile in PHOTO against the target of its card."""
    from ribwright.services.photo_measure import profile_reading, read_json

    layout, given = read_json(Path(card), "card layout"), read_json(Path(typed), "input")
    answer, reading, taken = profile_reading(Path(photo), layout=layout, typed=given)
    if overlay and reading is not None:
        from ribwright.services.photo_overlay import profile_overlay

        Path(overlay).write_text(
            profile_overlay(reading, taken, layout=layout, typed=given), encoding="utf-8"
        )
    emit(answer, as_json=as_json, text=_profile_text(answer))


@group.command("heads")
@click.argument("photo")
@click.option(
    "--strip", required=True, metavar="LAYOUT.json", help="The strip's layout, written with the sheet."
)
@_input
@as_json_option
def heads(photo: str, strip: str, typed: str, as_json: bool) -> None:
    """Measure the rivet row in PHOTO: diameters, roundness, pitch, edge distance."""
    from ribwright.services.photo_measure import measure_row_photo, read_json

    layout, given = read_json(Path(strip), "strip layout"), read_json(Path(typed), "input")
    answer = measure_row_photo(Path(photo), layout=layout, typed=given)
    emit(answer, as_json=as_json, text=_row_text(answer))


@group.command("folder")
@click.argument("folder")
@click.option(
    "--kind",
    type=click.Choice(["profile", "heads"]),
    default="profile",
    show_default=True,
    help="What the photos show.",
)
@click.option("--layout", metavar="LAYOUT.json", help="For photos without a layout of their own beside them.")
@click.option("--input", "typed", metavar="INPUT.json", help="For photos without an input of their own.")
@click.option("--workers", type=click.IntRange(1, 256), help="Processes; left out, all cores.")
@as_json_option
def folder(
    folder: str, kind: str, layout: str | None, typed: str | None, workers: int | None, as_json: bool
) -> None:
    """Measure all photos of FOLDER, on all cores."""
    from ribwright.services.photo_measure import measure_folder

    def show(done: int, total: int, name: str) -> None:
        print(f"{done} of {total}: {name}", file=sys.stderr)

    answers = measure_folder(
        Path(folder),
        kind=kind,
        layout=Path(layout) if layout else None,
        typed=Path(typed) if typed else None,
        workers=workers or os.cpu_count() or 1,
        progress=show,
    )
    lines = [
        f"{a['photo']}: {a['status']}. {a.get('reason') or a.get('finding') or a.get('summary')}"
        for a in answers
    ]
    emit({"photos": answers}, as_json=as_json, text="\n".join(lines) or "No photos in this folder.")


def _profile_text(answer: dict[str, Any]) -> str:
    if answer["status"] != "measured":
        return "\n".join(["Take it again. " + answer["reason"], *answer["notes"]])
    u95 = [u for u in answer["u95_mm"] if u is not None]
    return "\n".join(
        [
            f"{answer['finding']}: largest deviation {answer['max_abs_bestfit_mm']:.2f} mm, good to about "
            f"{sorted(u95)[len(u95) // 2]:.2f} mm (95 in 100). {100 * answer['seen_share']:.0f} % of the arc seen; "
            f"turned {answer['rotation_deg']:.2f} degrees against the target.",
            *answer["notes"],
        ]
    )


def _row_text(answer: dict[str, Any]) -> str:
    if answer["status"] != "measured":
        return "\n".join(["Take it again. " + answer["reason"], *answer["notes"]])
    lines = [
        f"{k}: {h['finding']}; diameter {h['d_min']:.2f} to {h['d_max']:.2f} mm"
        + (f"; edge {h['edge_distance_mm']:.2f} mm" if h["edge_distance_mm"] is not None else "")
        + (f" ({', '.join(h['reasons'])})" if h["reasons"] else "")
        for k, h in enumerate(answer["heads"], 1)
    ]
    return "\n".join([*lines, answer["summary"], *answer["notes"]])
