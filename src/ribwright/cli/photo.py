"""``ribwright photo``: profiles and rivet rows measured from photos."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from ribwright import __version__
from ribwright.cli.app import emit
from ribwright.cli.group import Group
from ribwright.cli.options import acting, as_json_option, project_option, with_workers


@click.group("photo", cls=Group)
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
    from ribwright.services.photo_bend import roll_of_input
    from ribwright.services.photo_measure import profile_reading, read_json

    layout, given = read_json(Path(card), "card layout"), read_json(Path(typed), "input")
    plan = roll_of_input(given)
    answer, reading, taken = profile_reading(Path(photo), layout=layout, typed=given)
    if overlay and reading is not None and taken is not None:
        from ribwright.services.photo_overlay import profile_svg

        Path(overlay).write_text(profile_svg(reading, taken, layout=layout, typed=given), encoding="utf-8")
    following = ""
    if answer["status"] == "measured":
        from ribwright.services.photo_next import profile_next

        following = profile_next(answer, float(given["tolerance_mm"]), layout=layout, plan=plan)
    emit(
        {**answer, "next": following},
        as_json=as_json,
        text="\n".join([_profile_text(answer), following]).strip(),
    )


@group.command("heads")
@click.argument("photo")
@click.option(
    "--strip", required=True, metavar="LAYOUT.json", help="The strip's layout, written with the sheet."
)
@_input
@click.option("--overlay", metavar="FILE.svg", help="Also write the picture with every rim as traced.")
@as_json_option
def heads(photo: str, strip: str, typed: str, overlay: str | None, as_json: bool) -> None:
    """Measure the rivet row in PHOTO: diameters, roundness, pitch, edge distance."""
    from ribwright.services.photo_measure import read_json, row_reading

    layout, given = read_json(Path(strip), "strip layout"), read_json(Path(typed), "input")
    answer, reading, taken = row_reading(Path(photo), layout=layout, typed=given)
    if overlay and reading is not None and taken is not None:
        from ribwright.services.photo_overlay import row_svg

        drawn = row_svg(reading, taken)
        if drawn is not None:
            Path(overlay).write_text(drawn, encoding="utf-8")
    following = _after_row(answer, given)
    emit(
        {**answer, "next": following}, as_json=as_json, text="\n".join([_row_text(answer), following]).strip()
    )


@group.command("check")
@click.argument("photo")
@click.option(
    "--sheet", required=True, metavar="LAYOUT.json", help="Layout of the strip, or of the uncut card."
)
@_input
@as_json_option
def check(photo: str, sheet: str, typed: str, as_json: bool) -> None:
    """Measure a drill shank or feeler stack of known size in PHOTO: the error of this phone and printer."""
    from ribwright.services.photo_check import known_size_photo
    from ribwright.services.photo_measure import read_json

    layout, given = read_json(Path(sheet), "layout"), read_json(Path(typed), "input")
    answer = known_size_photo(Path(photo), layout=layout, typed=given)
    said = answer["words"] if answer["status"] == "measured" else "Take it again. " + answer["reason"]
    emit(answer, as_json=as_json, text="\n".join([said, *answer["notes"]]))


@group.command("sheet")
@click.argument("about")
@click.option(
    "--kind",
    type=click.Choice(["profile", "row", "straightness"]),
    default="profile",
    show_default=True,
    help="What is to be measured.",
)
@click.option("--place", default="", help="Along a rolled edge, for its template there.")
@click.option(
    "--paper", type=click.Choice(["letter", "a4", "a3"]), default="letter", show_default=True, help="Paper."
)
@click.option("--pdf", metavar="FILE", help="Write the sheet and how to use it to this PDF.")
@click.option("--layout", metavar="FILE", help="Write its layout to this JSON file.")
@project_option
@acting
@as_json_option
def sheet(
    about: str,
    kind: str,
    place: str,
    paper: str,
    pdf: str | None,
    layout: str | None,
    project: str | None,
    who: Any,
    request: str,
    as_json: bool,
) -> None:
    """Make a gauge sheet for the operation ABOUT; it is kept with the project."""

    from ribwright.core.metrology.layout import bar_words
    from ribwright.services.gauge import make_sheet, sheet_pdf
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made = make_sheet(
            opened, actor=who, request_id=request, about=about, kind=kind, place=place, paper=paper
        )
        if pdf:
            Path(pdf).write_bytes(sheet_pdf(opened, made.ref))
    if layout:
        Path(layout).write_text(
            json.dumps({**made.layout, "made_by": f"ribwright {__version__}"}), encoding="utf-8"
        )
    bars = [{"name": name, "nominal_mm": nominal} for name, nominal in made.bars]
    said = f"{made.ref}: {made.title}. Measure and type: " + ", ".join(
        f"{bar_words(name)} ({name}, nominal {nominal:g} mm)" for name, nominal in made.bars
    )
    emit({"ref": made.ref, "title": made.title, "bars": bars}, as_json=as_json, text=said)


@group.command("measure")
@click.argument("sheet_ref")
@click.argument("photos", nargs=-1, required=True)
@click.option("--bar", "bars", multiple=True, metavar="NAME=MM", help="A bar as measured; once for each.")
@click.option(
    "--set",
    "values",
    multiple=True,
    metavar="NAME=VALUE",
    help="Another typed value, such as edge_height_above_card_mm=0.5.",
)
@click.option("--stage", default="", help="Stage of the operation.")
@click.option(
    "--enter",
    "enter_it",
    is_flag=True,
    help="Keep photo, reading, finding and the picture with the traced edge in the record.",
)
@project_option
@acting
@as_json_option
def measure(
    sheet_ref: str,
    photos: tuple[str, ...],
    bars: tuple[str, ...],
    values: tuple[str, ...],
    stage: str,
    enter_it: bool,
    project: str | None,
    who: Any,
    request: str,
    as_json: bool,
) -> None:
    """Measure one or two PHOTOS taken on the gauge sheet SHEET_REF of the project."""
    from ribwright.errors import InputError, MeasuringError
    from ribwright.services.gauge import limits_for, sheet_of, typed_for
    from ribwright.services.gauge_measure import enter_measured, keep_refused, measure_on_sheet
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made = sheet_of(opened, sheet_ref)
        typed = {**typed_for(opened, made), **dict(_pair(one) for one in values)}
        if "limits" in typed:
            typed["limits"] = limits_for(str(typed.get("what", "")), typed["limits"])
        typed["bars_measured"] = [{"name": name, "measured_mm": value} for name, value in map(_pair, bars)]
        sent = [(Path(one).name, _content(one)) for one in photos[:2]]
        if enter_it:
            kept = {"actor": who, "request_id": request, "sheet": made, "stage": stage, "photos": sent}
            try:
                got, _ = enter_measured(opened, typed=typed, **kept)
            except (InputError, MeasuringError) as refused:
                keep_refused(opened, reason=refused.sentence(), **kept)
                raise
        else:
            got = measure_on_sheet(opened, made, [content for _, content in sent], typed=typed)
    answer = dict(got.answer)
    if answer["status"] != "measured":
        text = _again(answer)
    elif "heads" in answer:
        text = f"{_row_text(answer)}\n{got.next}"
    else:
        text = "\n".join([f"{answer['finding']}. {got.said}", *answer["notes"], got.next])
    emit({**answer, "next": got.next}, as_json=as_json, text=text)


def _pair(text: str) -> tuple[str, Any]:
    from ribwright.errors import FormatError

    name, equals, value = text.partition("=")
    if not equals:
        raise FormatError(text, found=text, allowed="NAME=VALUE")
    try:
        return name, float(value)
    except ValueError:
        return name, {"true": True, "false": False}.get(value, value)


def _content(path: str) -> bytes:
    from ribwright.errors import MissingError

    try:
        return Path(path).read_bytes()
    except OSError as error:
        raise MissingError("PHOTO", found=f"{path}: {error.strerror}", allowed="a photo") from None


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
@with_workers
@as_json_option
def folder(
    folder: str, kind: str, layout: str | None, typed: str | None, workers: int | None, as_json: bool
) -> None:
    """Measure all photos of FOLDER, on all cores."""
    from ribwright.services.photo_folder import measure_folder

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
    from ribwright.services.photo_next import profile_said

    if answer["status"] != "measured":
        return _again(answer)
    return "\n".join([f"{answer['finding']}. {profile_said(answer)}", *answer["notes"]])


def _again(answer: Mapping[str, Any]) -> str:
    return "\n".join(["Take it again. " + answer["reason"], *answer["notes"]])


def _after_row(answer: dict[str, Any], given: Mapping[str, Any]) -> str:
    from ribwright.services.photo_next import holes_next, row_next

    if answer["status"] != "measured":
        return ""
    what = str(given.get("what") or "")
    return holes_next(answer, what) if what in ("holes", "dimples") else row_next(answer, given)


def _row_text(answer: dict[str, Any]) -> str:
    if answer["status"] != "measured":
        return _again(answer)
    lines = [
        f"{k}: {h['finding']}; diameter {h['d_min']:.2f} to {h['d_max']:.2f} ± {h['u95_mm']:.2f} mm"
        + (f"; {h['pitch_to_next_mm']:.2f} mm to the next" if h["pitch_to_next_mm"] is not None else "")
        + (f"; edge {h['edge_distance_mm']:.2f} mm" if h["edge_distance_mm"] is not None else "")
        + (f" ({', '.join(h['reasons'])})" if h["reasons"] else "")
        for k, h in enumerate(answer["heads"], 1)
    ]
    return "\n".join([*lines, answer["summary"], *answer["notes"]])
