"""Photos are hostile until their header says otherwise; what is kept is kept by digest."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import pytest
from PIL import Image

from ribwright.errors import RibwrightError, UnknownNameError, UnreadablePhotoError
from ribwright.services import record
from ribwright.services.backup import export_project, import_project
from ribwright.services.photo_offers import offer_photos
from ribwright.services.photos import add_photo, check_header, photo_content
from ribwright.services.project import Actor, Project
from ribwright.services.seals import check
from ribwright.store.photos import photo_path

BUILDER = Actor("Ann Bell", "builder")


def picture(
    kind: str = "JPEG", size: tuple[int, int] = (1800, 1350), *, place: bool = False, when: str = ""
) -> bytes:
    image = Image.radial_gradient("L").resize(size).convert("RGB")
    exif = Image.Exif()
    if when:
        exif.get_ifd(0x8769)[36867] = when
    if place:
        exif.get_ifd(0x8825)[1] = "N"
        exif.get_ifd(0x8825)[2] = (47.0, 30.0, 0.0)
    out = io.BytesIO()
    image.save(out, kind, exif=exif)
    return out.getvalue()


def png_of(width: int, height: int) -> bytes:
    """A small PNG whose header says that it is large: one grey row, and the rest left out."""

    def chunk(name: bytes, content: bytes) -> bytes:
        return (
            struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))
        )

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(bytes(3 * width + 1)))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photo_is_kept_with_a_report_copy_and_a_thumbnail(project: Project, seam: str, kind: str) -> None:
    content = picture(kind)
    entry = add_photo(
        project,
        actor=BUILDER,
        request_id="p",
        content=content,
        about=seam,
        name="C:\\fakepath\\bay\x07 3.jpg",
        caption="bay 3",
    )
    again = add_photo(
        project,
        actor=BUILDER,
        request_id="p",
        content=content,
        about=seam,
        name="C:\\fakepath\\bay\x07 3.jpg",
        caption="bay 3",
    )
    assert again == entry
    (row,) = record.photos(project, seam)
    assert (row["name"], row["caption"], row["position"]) == ("bay 3.jpg", "bay 3", "no")
    assert photo_content(project, row["digest"]) == (content, f"image/{kind.lower()}")
    report = Image.open(io.BytesIO(photo_content(project, row["report"])[0]))
    assert report.size == (1600, 1200)
    assert Image.open(io.BytesIO(photo_content(project, row["thumb"])[0])).size == (320, 240)
    for digest in ("0" * 64, "../../etc/passwd", "", "A" * 64):
        with pytest.raises(UnknownNameError):
            photo_content(project, digest)


def test_where_it_was_taken_stays_out_of_report_copies_and_exports(
    project: Project, seam: str, tmp_path: Path
) -> None:
    content = picture(place=True, when="2026:03:01 19:20:00")
    add_photo(project, actor=BUILDER, request_id="p", content=content, about=seam)
    (row,) = record.photos(project, seam)
    assert (row["position"], row["taken_at"]) == ("yes", "2026-03-01T19:20:00")
    for name in ("report", "thumb"):
        kept = Image.open(io.BytesIO(photo_content(project, row[name])[0]))
        assert not kept.getexif().get_ifd(0x8825)
    plain = export_project(project, tmp_path / "plain")
    assert {path.name for path in (plain / "photos").iterdir()} == {row["report"], row["thumb"]}
    asked = export_project(project, tmp_path / "asked", positions=True)
    assert (asked / "photos" / row["digest"]).read_bytes() == content
    with import_project(plain, tmp_path / "again") as other:
        assert check(other).ok


def test_hostile_photos_are_refused_before_they_are_decoded(project: Project) -> None:
    whole = picture()
    for content in (
        b"",
        b"hello",
        b"GIF89a" + bytes(100),
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"\xff\xd8\xff",
        whole[:300],
        whole[: len(whole) // 2],
        picture("PNG", (64, 64))[:-40],
        png_of(20_000, 15_000),
        png_of(0, 5),
        b"\x00\x00\x00\x18ftypheic" + bytes(200),
        b"RIFF\x00\x00\x00\x00WEBPVP8X" + bytes(4),
    ):
        with pytest.raises(UnreadablePhotoError):
            add_photo(project, actor=BUILDER, request_id="h", content=content)
    assert record.photos(project) == ()
    with pytest.raises(UnreadablePhotoError, match="20000 by 15000"):
        check_header(png_of(20_000, 15_000))


def test_every_way_of_cutting_a_photo_off_is_a_sentence(project: Project) -> None:
    for kind in ("JPEG", "PNG", "WEBP"):
        whole = picture(kind, (60, 40), when="2026:03:01 19:20:00")
        for size in range(0, len(whole) - 20, max(1, len(whole) // 40)):
            with pytest.raises(UnreadablePhotoError):
                add_photo(project, actor=BUILDER, request_id="c", content=whole[:size])


def test_a_photo_on_an_unknown_part_leaves_no_entry(project: Project) -> None:
    with pytest.raises(UnknownNameError):
        add_photo(project, actor=BUILDER, request_id="u", content=picture(size=(40, 30)), about="nowhere")
    assert record.photos(project) == ()


def test_a_photo_that_was_changed_or_lost_is_found(folder_project: Project) -> None:
    project = folder_project
    assert project.folder is not None
    entry = add_photo(project, actor=BUILDER, request_id="p", content=picture(size=(80, 60)))
    path = photo_path(project.folder, entry.body["report"])
    kept = path.read_bytes()
    path.write_bytes(kept[:-1] + bytes([kept[-1] ^ 1]))
    (problem,) = check(project).problems
    assert (problem.seq, problem.what) == (entry.seq, "the report copy was changed")
    path.unlink()
    (problem,) = check(project).problems
    assert (problem.seq, problem.what) == (entry.seq, "the report copy is missing")


def test_photos_are_offered_to_the_operation_whose_clock_ran(
    project: Project, seam: str, tmp_path: Path
) -> None:
    record.add_entry(
        project,
        actor=BUILDER,
        request_id="w",
        kind="work",
        about=seam,
        body={"hours": "2", "from": "2026-03-01T18:00:00", "to": "2026-03-01T20:00:00"},
    )
    folder = tmp_path / "camera"
    folder.mkdir()
    (folder / "a.jpg").write_bytes(picture(size=(60, 40), when="2026:03:01 19:20:00"))
    (folder / "b.jpg").write_bytes(picture(size=(60, 40), when="2026:03:02 19:20:00"))
    (folder / "c.jpg").write_bytes(b"\xff\xd8\xffnothing")
    (folder / "d.txt").write_text("no photo")
    offers = offer_photos(project, folder)
    assert [(offer.path.name, offer.about, bool(offer.problem)) for offer in offers] == [
        ("a.jpg", seam, False),
        ("b.jpg", "", False),
        ("c.jpg", "", True),
    ]
    with pytest.raises(RibwrightError):
        offer_photos(project, tmp_path / "missing")
