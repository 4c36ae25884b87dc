"""The seal of a record, and checking it.

The seal is the end of the chain: how many entries there are, and the digest of the last. A chain
alone can't show that it was rebuilt whole, so a seal can be signed with a key that lies outside the
project folder, and kept elsewhere as a small text.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from ribwright.core.record.chain import Problem
from ribwright.errors import DiskError, FormatError, NoProjectError, RibwrightError
from ribwright.services.project import Project
from ribwright.store import chain
from ribwright.store.checking import check_store
from ribwright.store.files import write_durably

MAX_PROBLEMS = 1000
_HEADING = "Seal of a Ribwright record"
_SEAL = re.compile(
    rf"{_HEADING}\nproject   (?P<project>[^\n]+)\nentries   (?P<entries>[1-9]\d{{0,11}})\n"
    r"last      (?P<digest>[0-9a-f]{64})\nsealed    (?P<at>[0-9TZ:-]{20})\n"
    r"key       (?P<key>[0-9a-f]{64})\nsignature (?P<signature>[0-9a-f]{128})\n?"
)


@dataclass(frozen=True, slots=True)
class CheckReport:
    """What a check of the record found.

    Attributes:
        entries: how many there are.
        seal: of the record as it stands.
        problems: what doesn't agree, first entry first; at most ``MAX_PROBLEMS``.
        first_bad: number of the first entry that is wrong, or None.
        against: what the signed seal said, in one sentence, or "".
    """

    entries: int
    seal: str
    problems: tuple[Problem, ...]
    against: str = ""

    @property
    def ok(self) -> bool:
        return not self.problems

    @property
    def first_bad(self) -> int | None:
        numbers = [problem.seq for problem in self.problems if problem.seq]
        return min(numbers, default=None)


def seal(project: Project) -> str:
    """The seal: number of entries and digest of the last, such as ``1204-9f3c…``."""
    with project.store.read() as connection:
        seq, digest = chain.head_of(connection, project.id)
    return f"{seq}-{digest}"


def short_seal(project: Project) -> str:
    """The seal as it is printed at the foot of a sheet."""
    number, _, digest = seal(project).partition("-")
    return f"{number}-{digest[:12]}"


def dated_seal(project: Project) -> str:
    """The seal as it is printed on a sheet that leaves the screen: with the day of the record's last entry."""
    with project.store.read() as connection:
        seq, digest = chain.head_of(connection, project.id)
        last = chain.by_seq(connection, project.id, seq)
    return f"{seq}-{digest[:12]}" + (f" of {last.at[:10]}" if last is not None else "")


def check(
    project: Project,
    against: Path | str | None = None,
    *,
    progress: Callable[[str, int], None] | None = None,
) -> CheckReport:
    """Follow the chain, rebuild every table from the entries, and compare.

    Args:
        project: an open project.
        against: a signed seal that was kept elsewhere.
        progress: told the step and how many entries it has passed.

    Raises:
        FormatError: the signed seal can't be read.
    """
    said = _read_seal(Path(against)) if against is not None else None
    problems: list[Problem] = []
    for problem in check_store(project.store, progress):
        problems.append(problem)
        if len(problems) >= MAX_PROBLEMS:
            break
    sentence = ""
    if said is not None:
        wrong, sentence = _against(project, said)
        problems.extend(wrong)
    try:
        found = seal(project)
    except RibwrightError as error:
        problems.append(Problem(0, "head", f"the end of the chain can't be read: {error}"))
        found = "0-"
    count = found.partition("-")[0]
    return CheckReport(int(count) if count.isdecimal() else 0, found, tuple(problems), sentence)


def sign_seal(project: Project, target: Path | str, *, key_file: Path | str | None = None) -> Path:
    """Write the seal, signed, into a small text file to be kept elsewhere.

    Args:
        project: an open project.
        target: the file to write.
        key_file: the private key; made on first use. By default in the user's own settings folder,
            never in the project.

    Raises:
        DiskError: the file or the key can't be written.
        FormatError: the key file holds no key.
    """
    key = _private_key(Path(key_file) if key_file is not None else default_key_file(), project)
    with project.store.read() as connection:
        seq, digest = chain.head_of(connection, project.id)
    public = key.public_key().public_bytes_raw().hex()
    lines = (
        f"{_HEADING}\nproject   {project.id}\nentries   {seq}\nlast      {digest}\n"
        f"sealed    {project.now()}\nkey       {public}\n"
    )
    path = Path(target)
    try:
        write_durably(path, f"{lines}signature {key.sign(lines.encode()).hex()}\n".encode())
    except OSError as error:
        raise DiskError("seal", found=f"{path}: {error.strerror}") from error
    return path


def default_key_file() -> Path:
    """Where the signing key of this user lies."""
    settings = os.environ.get("XDG_CONFIG_HOME") or os.environ.get("APPDATA")
    return (Path(settings) if settings else Path.home() / ".config") / "ribwright" / "seal.key"


def _private_key(path: Path, project: Project):  # type: ignore[no-untyped-def]
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    if project.folder is not None and path.resolve().is_relative_to(project.folder.resolve()):
        raise FormatError(
            "key file",
            found=path,
            because="whoever holds the project would hold the key as well",
            mend="Keep the key outside the project folder",
        )
    try:
        if not path.exists():
            path.parent.mkdir(parents=True, exist_ok=True)
            made = Ed25519PrivateKey.generate().private_bytes_raw().hex()
            with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as stream:
                stream.write(made + "\n")
        text = path.read_text(encoding="ascii").strip()
    except OSError as error:
        raise DiskError("key file", found=f"{path}: {error.strerror}") from error
    except UnicodeDecodeError:
        text = ""
    if not re.fullmatch(r"[0-9a-f]{64}", text):
        raise FormatError(
            "key file",
            found=path,
            allowed="the file that ribwright record seal made",
            because="it holds no key",
        )
    return Ed25519PrivateKey.from_private_bytes(bytes.fromhex(text))


def _read_seal(path: Path) -> re.Match[str]:
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        text = path.read_bytes()[:10_000].decode("utf-8").replace("\r\n", "\n")
    except OSError as error:
        raise NoProjectError("seal", found=f"{path}: {error.strerror}", because="it can't be read") from error
    except UnicodeDecodeError:
        text = ""
    match = _SEAL.fullmatch(text)
    if match is None:
        raise FormatError("seal", found=path, allowed="a text that ribwright record seal --signed wrote")
    signed = text[: match.start("signature")].removesuffix("signature ")
    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(match["key"])).verify(
            bytes.fromhex(match["signature"]), signed.encode()
        )
    except (InvalidSignature, ValueError) as error:
        raise FormatError("seal", found=path, because="its signature does not fit its text") from error
    return match


def _against(project: Project, said: re.Match[str]) -> tuple[list[Problem], str]:
    seq = int(said["entries"])
    if said["project"] != project.id:
        return [Problem(0, "seal", f"it belongs to the project {said['project']}")], "another project's seal"
    with project.store.read() as connection:
        entry = chain.by_seq(connection, project.id, seq)
    known = _known_key()
    whose = "your key" if known == said["key"] else f"key {said['key'][:16]}, which is not yours here"
    if entry is None:
        return [Problem(seq, "seal", f"sealed with {seq} entries; the end was cut off")], ""
    if entry.digest != said["digest"]:
        return [Problem(seq, "seal", f"entry {seq} is not the one that was sealed on {said['at']}")], ""
    return [], f"sealed on {said['at']} with {whose}: entries 1 to {seq} are the same"


def _known_key() -> str:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    try:
        text = default_key_file().read_text(encoding="ascii").strip()
        return Ed25519PrivateKey.from_private_bytes(bytes.fromhex(text)).public_key().public_bytes_raw().hex()
    except (OSError, ValueError):
        return ""
