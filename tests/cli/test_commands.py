"""The command line: exit codes, JSON shape, help everywhere, nothing heavy imported."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import click
import pytest

from ribwright.cli.app import GROUPS, main
from seams import SEAM


def run(*words: str, stdin: str = "", env: dict[str, str] | None = None) -> subprocess.CompletedProcess[str]:
    import os

    return subprocess.run(
        [sys.executable, "-m", "ribwright", *words],
        input=stdin,
        capture_output=True,
        text=True,
        env={**os.environ, **(env or {})},
    )


def commands() -> list[tuple[str, click.Command]]:
    found: list[tuple[str, click.Command]] = []

    def walk(command: click.Command, path: str) -> None:
        found.append((path, command))
        if isinstance(command, click.Group):
            context = click.Context(command)
            for name in command.list_commands(context):
                child = command.get_command(context, name)
                assert child is not None
                walk(child, f"{path} {name}")

    walk(main, "ribwright")
    return found


COMMANDS = commands()


@pytest.mark.parametrize(("path", "command"), COMMANDS, ids=[path for path, _ in COMMANDS])
def test_every_command_and_option_has_help_and_a_docs_line(path: str, command: click.Command) -> None:
    assert command.help, path
    for option in command.params:
        if isinstance(option, click.Option):
            assert option.help, f"{path} {option.name}"
    docs = (Path(__file__).parents[2] / "docs" / "cli.md").read_text(encoding="utf-8")
    assert f"## {path}\n" in docs, "run scripts/generate.py"


def test_every_group_named_exists() -> None:
    assert set(GROUPS) == {path.split()[1] for path, _ in COMMANDS if len(path.split()) > 1}


def test_an_answer_is_one_json_object_with_exit_0() -> None:
    done = run("calc", "seam", "--in", "-", "--json", stdin=json.dumps(SEAM))
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["results"]["rivet"]["value"] == "MS20426AD3-3.5"


def test_flags_are_the_fields() -> None:
    words = ["--title", "t", "--first=1", "--last", "101.6 mm"]
    for n, t in enumerate((".020", ".040")):
        words += [f"--layers.{n}.part", "p", f"--layers.{n}.thickness", t]
    done = run("calc", "seam", *words, "--json")
    assert done.returncode == 0, done.stdout
    assert json.loads(done.stdout)["inputs"]["last"] == "101.6 mm"


@pytest.mark.parametrize(
    ("words", "stdin", "code", "says"),
    [
        (["calc", "seam", "--in", "-"], "{", 3, "named values"),
        (["calc", "seam", "--in", "-"], '{"first": NaN}', 3, "NaN"),
        (["calc", "seam", "--in", "-"], "[]", 3, "named values"),
        (["calc", "seam", "--in", "-"], "[" * 100_000, 3, "values within values"),
        (["calc", "seam", "--in", "-"], '{"first": ' + "9" * 5000 + "}", 3, ""),
        (["calc", "seam", "--in", "/nonexistent/file"], "", 3, "no such file"),
        (["calc", "sea", "--in", "-"], "{}", 3, "seam"),
        (["calc", "seam", "--colour", "red"], "", 3, "colour"),
        (["calc", "seam", "stray"], "", 3, "--FIELD VALUE"),
        (["table", "show", "drills/number", "#95"], "", 3, "nearest rows"),
        (["nonsense"], "", 2, "No such command"),
        (["bench", "next", "--project", "/nonexistent"], "", 4, "no project"),
    ],
)
def test_bad_input_is_a_sentence_and_an_exit_code(words: list[str], stdin: str, code: int, says: str) -> None:
    done = run(*words, stdin=stdin)
    assert done.returncode == code, done.stdout + done.stderr
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
    as_json = run(*words, "--json", stdin=stdin)
    if "--json" in str(click.Context(main)) or code != 2:
        assert as_json.returncode == code
        error = json.loads(as_json.stdout)["error"]
        assert set(error) == {"code", "message", "field", "found", "allowed", "mend"}


def test_a_broken_toml_names_the_line(tmp_path: Path) -> None:
    path = tmp_path / "seam.toml"
    path.write_text('title = "x"\nfirst = = 1\n', encoding="utf-8")
    done = run("calc", "seam", "--in", str(path))
    assert done.returncode == 3
    assert "line 2" in done.stderr


def test_listing_gives_name_fields_units_and_result_keys() -> None:
    listed = json.loads(run("calc", "--list", "--json").stdout)["calculations"]
    seam = next(one for one in listed if one["name"] == "seam")
    assert {"first", "layers"} <= {field["name"] for field in seam["fields"]}
    assert next(f for f in seam["fields"] if f["name"] == "first")["unit"] == "in"
    assert "rivet" in seam["results"]


def test_help_and_listing_import_nothing_heavy() -> None:
    probe = (
        "import sys; from ribwright.cli.app import run\n"
        "try: run(sys.argv[1:])\n"
        "except SystemExit: pass\n"
        "print([m for m in ('numpy','numba','scipy','cv2','sqlalchemy','reportlab','starlette') if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", probe, "--help"], capture_output=True, text=True)
    assert done.stderr.strip() == "[]"


def test_a_port_in_use_is_a_sentence(tmp_path: Path) -> None:
    import socket

    from filled import filled

    filled(tmp_path / "p").close()
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        done = run("serve", "--port", str(taken.getsockname()[1]), "--project", str(tmp_path / "p"))
    assert done.returncode == 7
    assert "Try --port" in done.stderr


def test_a_file_that_cannot_be_written_gives_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from ribwright.cli.app import run as here

    there = tmp_path / "there"
    there.write_text("a file", encoding="utf-8")
    example = Path(__file__).parents[2] / "docs" / "examples" / "flat-blank.toml"
    for words in (
        ["full-size", "calc", "flat-blank", "--in", str(example), "--out", str(there)],
        ["calc", "flat-blank", "--in", str(example), "--pdf", str(there / "sheet.pdf")],
        ["calc", "flat-blank", "--in", str(example), "--svg", str(tmp_path)],
    ):
        with pytest.raises(SystemExit) as left:
            here(words)
        said = capsys.readouterr()
        assert left.value.code == 4
        assert "could not be read or written" in said.err
        assert words[-1] in said.err
        assert not said.out
    assert there.read_text(encoding="utf-8") == "a file"
