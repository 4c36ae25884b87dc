"""All photos of a folder measured, on several cores."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from ribwright.errors import FormatError, MissingError, RibwrightError
from ribwright.services import compute
from ribwright.services.passing import passing_folder
from ribwright.services.photo_decode import MAX_BYTES, file_bytes
from ribwright.services.photo_measure import measure_profile_photo, measure_row_photo, read_json

ENDINGS = (".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif")


def measure_folder(
    folder: Path,
    *,
    kind: str,
    layout: Path | None = None,
    typed: Path | None = None,
    workers: int = 1,
    progress: Callable[[int, int, str], None] | None = None,
) -> list[dict[str, Any]]:
    """Measure all photos of a folder, on several cores.

    A photo ``NAME.jpg`` uses ``NAME.card.json`` (or ``NAME.strip.json``) and ``NAME.input.json`` beside it
    where these exist, else the common ``layout`` and ``typed``.

    Args:
        folder: where the photos are.
        kind: "profile" or "heads".
        layout: layout common to all.
        typed: input common to all.
        workers: processes; 1 measures here.
        progress: called with how many are done, of how many, and the name; may raise ``Stopped``.

    Returns:
        One answer a photo, in order of name, with ``photo``; a photo that is an error has ``status`` "error".
    """
    if kind not in ("profile", "heads"):
        raise FormatError("kind", found=kind, allowed="profile, heads")
    if not folder.is_dir():
        raise MissingError("folder", found=str(folder), mend="Give the folder that holds the photos")
    photos = sorted(p for p in folder.iterdir() if p.suffix.lower() in ENDINGS)
    jobs = [(photo, kind, layout, typed) for photo in photos]
    answers: list[dict[str, Any]] = []
    if compute.has_workers():
        for done, answer in enumerate(compute.spread(_one_by_value, map(_by_value, jobs)), 1):
            answers.append(answer)
            if progress:
                progress(done, len(jobs), answer["photo"])
        return answers
    if workers <= 1 or len(jobs) < 2:
        for done, job in enumerate(jobs, 1):
            answers.append(_one_of_folder(job))
            if progress:
                progress(done, len(jobs), job[0].name)
        return answers
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    with ProcessPoolExecutor(min(workers, len(jobs)), mp_context=get_context("spawn")) as pool:
        try:
            for done, answer in enumerate(pool.map(_one_of_folder, jobs), 1):
                answers.append(answer)
                if progress:
                    progress(done, len(jobs), answer["photo"])
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    return answers


def _one_of_folder(job: tuple[Path, str, Path | None, Path | None]) -> dict[str, Any]:
    try:
        sheet, given = _said_of(job)
        return _measured(job[0], job[1], sheet, given)
    except RibwrightError as wrong:
        return _wrong(job[0].name, wrong)


def _by_value(job: tuple[Path, str, Path | None, Path | None]) -> tuple[Any, ...]:
    """A photo and what is said of it, to be sent to a worker that has no folder of ours."""
    photo, kind, _, _ = job
    try:
        sheet, given = _said_of(job)
        return photo.name, kind, file_bytes(photo, "photo", MAX_BYTES), sheet, given
    except RibwrightError as wrong:
        return photo.name, kind, b"", _wrong(photo.name, wrong), None


def _one_by_value(name: str, kind: str, content: bytes, sheet: Any, given: Any) -> dict[str, Any]:
    if given is None:
        answer: dict[str, Any] = sheet
        return answer
    with passing_folder() as folder:
        photo = folder / name
        photo.write_bytes(content)
        try:
            return _measured(photo, kind, sheet, given)
        except RibwrightError as wrong:
            return _wrong(name, wrong)


def _said_of(job: tuple[Path, str, Path | None, Path | None]) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
    photo, kind, layout, typed = job
    ending = "card" if kind == "profile" else "strip"
    sheet = _beside(photo.with_suffix(f".{ending}.json"), layout, "layout")
    return sheet, _beside(photo.with_suffix(".input.json"), typed, "input")


def _measured(photo: Path, kind: str, sheet: Mapping[str, Any], given: Mapping[str, Any]) -> dict[str, Any]:
    measure = measure_profile_photo if kind == "profile" else measure_row_photo
    return {"photo": photo.name, **measure(photo, layout=sheet, typed=given)}


def _wrong(name: str, wrong: RibwrightError) -> dict[str, Any]:
    return {"photo": name, "status": "error", "reason": wrong.sentence(), "error": wrong.as_dict()}


def _beside(own: Path, common: Path | None, field: str) -> Mapping[str, Any]:
    chosen = own if own.is_file() else common
    if chosen is None:
        raise MissingError(field, found=f"no {own.name}", mend=f"Put {own.name} beside the photo")
    return read_json(chosen, field)
