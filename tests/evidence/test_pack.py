"""The evidence pack: read back as an inspector would, and checked without the program."""

from __future__ import annotations

import random
import runpy
import subprocess
import sys
import warnings
from pathlib import Path

import pypdfium2
import pytest

from filled import filled
from ribwright.core.record.standalone import SCRIPT
from ribwright.services.evidence import write_pack
from ribwright.services.record import seal
from seams import REF


def text_of(pdf: Path) -> str:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return "\n".join(page.get_textpage().get_text_range() for page in document).replace("\r\n", "\n")
    finally:
        document.close()


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, str]:
    folder = tmp_path_factory.mktemp("pack")
    with filled(folder / "p") as project:
        made = write_pack(project, folder / "pack")
        return made.folder, text_of(made.pdf), seal(project)


def script_in(text: str, tmp_path: Path) -> Path:
    """The script as a person would copy it out of the PDF."""
    start, end = text.index("import hashlib"), text.index("sys.exit(1 if bad else 0)")
    path = tmp_path / "check.py"
    path.write_text(text[start:end] + "sys.exit(1 if bad else 0)\n", encoding="utf-8")
    return path


def alone(script: Path, folder: Path) -> tuple[int, str]:
    done = subprocess.run([sys.executable, "-I", str(script), str(folder)], capture_output=True, text=True)
    return done.returncode, done.stdout


def here(
    script: Path, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> tuple[int, str]:
    monkeypatch.setattr(sys, "argv", [str(script), str(folder)])
    code = 0
    try:
        with warnings.catch_warnings():
            # It leaves its files to the interpreter's end to close.
            warnings.simplefilter("ignore", ResourceWarning)
            runpy.run_path(str(script), run_name="__main__")
    except SystemExit as end:
        code = int(end.code or 0)
    return code, capsys.readouterr().out


def test_the_script_taken_from_the_pdf_checks_the_folder(pack: tuple[Path, str, str], tmp_path: Path) -> None:
    folder, text, mark = pack
    script = script_in(text, tmp_path)
    code, said = alone(script, folder)
    assert code == 0, said
    assert mark in said


def test_any_changed_byte_of_record_or_photo_is_found_by_it(
    pack: tuple[Path, str, str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    folder, text, _ = pack
    script = script_in(text, tmp_path)
    rng = random.Random(3)
    files = [folder / "entries.jsonl", *sorted((folder / "photos").iterdir())]
    for attempt in range(24):
        path = files[0] if attempt % 2 else rng.choice(files)
        content = bytearray(path.read_bytes())
        at = rng.randrange(len(content))
        kept, content[at] = content[at], content[at] ^ (1 << rng.randrange(8))
        path.write_bytes(content)
        # Twice as somebody else would start it; the rest in this process, which is quicker.
        code, said = alone(script, folder) if attempt < 2 else here(script, folder, monkeypatch, capsys)
        content[at] = kept
        path.write_bytes(content)
        assert code == 1, f"{path.name} byte {at}: {said}"
        assert said.strip()
    whole = files[0].read_bytes()
    files[0].write_bytes(whole[: whole.rstrip(b"\n").rindex(b"\n") + 1])
    assert here(script, folder, monkeypatch, capsys)[0] == 1
    files[0].write_bytes(whole)
    assert here(script, folder, monkeypatch, capsys)[0] == 0


def test_the_script_is_short_flat_and_its_own() -> None:
    lines = SCRIPT.splitlines()
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 120
    assert all(not line.startswith(" ") for line in lines)
    assert "ribwright" not in SCRIPT


def test_a_reader_finds_what_was_done_measured_and_asked(pack: tuple[Path, str, str]) -> None:
    _, text, mark = pack
    flat = " ".join(text.split())
    for said in (
        "Test aeroplane", REF, "upper skin to spar, left aileron", "1.5 h by Ann Bell (builder)", "formed head height", ".030", "rework",
        "scratch at 20 in from the inboard end", "open", "bay 1", "The designer's drawings",
    ):  # fmt: skip
        assert said in flat, said
    assert mark[:20] in flat
