"""Memory of the server under uploads that want to fill it: before, at its highest, and after it is left alone.

``python benchmarks/upload_attack.py [--rounds 2] [--clients 12]``

Each attack is sent from all clients at once, round after round, as the laptop's own browser would send it (a paired
phone passes the same way): small pictures that unpack to 50 megapixels, real photos of 48 megapixels, 60 MB that are
no picture, 60 MB of text in a field of the form, and 60 MB of a plain form. The floor is the server as it started.
"""

from __future__ import annotations

import argparse
import http.client
import io
import os
import secrets
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

from live_pages import start
from PIL import Image

from ribwright.services.dunlin import make_dunlin
from ribwright.services.project import Actor

REF = "DN-21-S11"
ADD, FOLDER, PLACE = f"/photo/add/{REF}", "/photos", "/photos/place"
SEVERAL = 60_000_000


def memory(process: int) -> tuple[float, float]:
    """MB that a process holds now, and the most it ever held."""
    rows = dict(line.split(":", 1) for line in Path(f"/proc/{process}/status").read_text().splitlines())
    return tuple(int(rows[name].split()[0]) / 1024 for name in ("VmRSS", "VmHWM"))  # type: ignore[return-value]


def picture(kind: str, size: tuple[int, int], *, noise: bool) -> bytes:
    made = Image.effect_noise((size[0] // 8, size[1] // 8), 90).resize(size).convert("RGB") if noise else Image.new("RGBA", size, "grey")  # fmt: skip
    out = io.BytesIO()
    made.save(out, kind)
    return out.getvalue()


def multipart(parts: list[tuple[str, str, bytes]]) -> tuple[bytes, str]:
    """Body and content type of a form; a part with a file name is a file."""
    mark = secrets.token_hex(8)
    out = io.BytesIO()
    for name, filename, content in parts:
        named = f'; filename="{filename}"' if filename else ""
        out.write(f'--{mark}\r\ncontent-disposition: form-data; name="{name}"{named}\r\n\r\n'.encode())
        out.write(content + b"\r\n")
    out.write(f"--{mark}--\r\n".encode())
    return out.getvalue(), f"multipart/form-data; boundary={mark}"


def one(field: str, content: bytes, filename: str = "a.jpg") -> Callable[[], tuple[bytes, str]]:
    def made() -> tuple[bytes, str]:
        request = ("request", "", secrets.token_hex(8).encode())
        return multipart([request, (field, filename, content)])

    return made


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("--rounds", type=int, default=2)
    asked.add_argument("--clients", type=int, default=12)
    given = asked.parse_args()
    png = picture("PNG", (7000, 7000), noise=False)
    jpeg = picture("JPEG", (8000, 6000), noise=True)
    noise = secrets.token_bytes(SEVERAL)
    plain = b"caption=" + b"a" * SEVERAL
    urlencoded = "application/x-www-form-urlencoded"
    attacks: dict[str, tuple[str, Callable[[], tuple[bytes, str]]]] = {
        f"pictures of {len(png) / 1e6:.1f} MB, 49 megapixels": (ADD, one("photo", png)),
        f"photos of {len(jpeg) / 1e6:.1f} MB, 48 megapixels": (ADD, one("photo", jpeg)),
        "60 MB that are no picture": (ADD, one("photo", noise)),
        "60 MB that begin as one": (ADD, one("photo", jpeg[: len(jpeg) // 2] + noise[: SEVERAL - len(jpeg)])),
        "60 MB in one go to the camera page": (FOLDER, one("photos", noise)),
        "60 MB of text in a field": (ADD, one("caption", b"a" * SEVERAL, "")),
        "60 MB of a plain form": (ADD, lambda: (plain, urlencoded)),
        "60 MB of a plain form, placing": (PLACE, lambda: (plain, urlencoded)),
        "60 MB of text, placing": (PLACE, one("caption.0", b"a" * SEVERAL, "")),
    }
    with tempfile.TemporaryDirectory() as folder:
        project = Path(folder) / "p"
        make_dunlin(project, actor=Actor("builder"), request_id="bench").close()
        server, port, _ = start(project)
        try:
            time.sleep(4)
            floor, _ = memory(server.pid)
            print(
                f"floor: the server as it started holds {floor:.0f} MB; {given.clients} clients at once, {given.rounds} rounds each"
            )
            for name, (path, make) in attacks.items():
                Path(f"/proc/{server.pid}/clear_refs").write_text("5")  # begins the highest anew
                answers: dict[str, int] = {}

                def client(
                    path: str = path,
                    make: Callable[[], tuple[bytes, str]] = make,
                    answers: dict[str, int] = answers,
                ) -> None:
                    for _ in range(given.rounds):
                        body, kind = make()
                        said = sent(port, path, body, kind)
                        answers[said] = answers.get(said, 0) + 1

                threads = [threading.Thread(target=client) for _ in range(given.clients)]
                began = time.perf_counter()
                for thread in threads:
                    thread.start()
                for thread in threads:
                    thread.join()
                took = time.perf_counter() - began
                most = memory(server.pid)[1]
                time.sleep(3)
                print(
                    f"{name:44s} most {most:6.0f} MB, then {memory(server.pid)[0]:6.0f} MB; {took:5.1f} s; answers {dict(sorted(answers.items()))}",
                    flush=True,
                )
            began = time.perf_counter()
            print(
                f"a page then: {sent(port, '/', b'', '')} in {1000 * (time.perf_counter() - began):.0f} ms; {memory(server.pid)[0] - floor:+.0f} MB over the start"
            )
        finally:
            server.terminate()
            server.wait(20)
    return 0


def sent(port: int, path: str, body: bytes, kind: str) -> str:
    """Status of one request, or how it was broken off."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=300)
    try:
        if body:
            connection.request("POST", path, body, {"content-type": kind})
        else:
            connection.request("GET", path)
        return str(connection.getresponse().status)
    except OSError as error:  # refused before the whole body was read
        return os.strerror(error.errno) if error.errno else type(error).__name__
    except http.client.HTTPException as error:
        return type(error).__name__
    finally:
        connection.close()


if __name__ == "__main__":
    raise SystemExit(main())
