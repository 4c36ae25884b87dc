"""What a guest, a hostile page, a stolen phone and a hostile file try beyond the entrance."""

from __future__ import annotations

import asyncio
import io
import socket

import pytest
from PIL import Image
from starlette.testclient import TestClient

from filled import ANN
from ribwright.cli.serve_listener import HomeListener
from ribwright.errors import OutOfRangeError
from ribwright.services.devices import devices, make_pairing, redeem, revoke
from ribwright.services.project import Project
from ribwright.services.record import photos, set_object
from ribwright.web import sessions
from ribwright.web.app import create_app
from ribwright.web.security import LARGEST_FORM, Message
from ribwright.web.uploads import LARGEST_WORDS
from seams import REF
from web_phones import HTTPS, OPEN, SECURE, come_in, phone

HOSTILE = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>"


def test_a_body_that_says_no_length_is_bounded_all_the_same(client: TestClient) -> None:
    def parts(name: bytes, size: int) -> list[bytes]:
        head = b'--x\r\nContent-Disposition: form-data; name="' + name + b'"; filename="a"\r\n\r\n'
        return [head, *([b"\0" * 500_000] * (size // 500_000 + 1)), b"\r\n--x--\r\n"]

    kind = {"content-type": "multipart/form-data; boundary=x"}
    for path, size in (("/airframe/new", LARGEST_FORM), ("/live/" + REF + "/say", LARGEST_FORM)):
        answer = client.post(path, content=iter(parts(b"photo", size)), headers=kind)
        assert answer.status_code in (400, 413), (path, answer.status_code)
    answer = client.post("/photo/add/" + REF, content=iter(parts(b"photo", 64_500_000)), headers=kind)
    assert answer.status_code == 413
    assert "at most 64 MB" in answer.text


def test_only_a_photo_may_be_large(client: TestClient, project: Project) -> None:
    before = len(photos(project))
    large = "a" * (LARGEST_FORM + 1)
    for path in (f"/photo/add/{REF}", "/photos", "/photos/place"):
        assert client.post(path, data={"caption": large}).status_code == 413, path
    assert client.post("/photos/place", files={"caption.0": (None, large)}).status_code == 413
    words = {"photo": ("a.jpg", b"x"), "caption": (None, "a" * (LARGEST_WORDS + 1))}
    assert client.post(f"/photo/add/{REF}", files=words).status_code == 400
    assert len(photos(project)) == before


@pytest.mark.parametrize(("turn", "corner"), [(1, (0, 0)), (6, (-1, 0)), (3, (-1, -1))])
def test_a_large_picture_is_kept_small_and_upright(
    client: TestClient, project: Project, turn: int, corner: tuple[int, int]
) -> None:
    picture = Image.new("RGBA", (6400, 480), (200, 0, 0, 255))
    picture.paste((0, 0, 200, 255), (0, 0, 120, 120))
    note = Image.Exif()
    note[0x0112] = turn
    out = io.BytesIO()
    picture.save(out, "PNG", exif=note, compress_level=1)
    sent = client.post(
        f"/photo/add/{REF}", files={"photo": ("a.png", out.getvalue())}, data={"request": f"turn{turn}"}
    )
    assert sent.status_code == 303, sent.text
    report = Image.open(io.BytesIO(client.get(f"/photo/{photos(project, REF)[-1]['report']}").content))
    assert max(report.size) == 1600
    assert (report.width > report.height) == (turn != 6)
    at = [size - 8 if edge else 8 for size, edge in zip(report.size, corner, strict=True)]
    red, _, blue = report.getpixel((at[0], at[1]))  # type: ignore[misc]
    assert blue > 150 > red, "the marked corner is where it belongs"


def test_a_page_elsewhere_may_lead_here_but_draws_nothing_in(client: TestClient, project: Project) -> None:
    mark = photos(project, REF)[0]["thumb"]
    for site in ("cross-site", "same-site"):
        for mode, dest in (
            ("no-cors", "image"),
            ("cors", "empty"),
            ("navigate", "iframe"),
            ("no-cors", "script"),
        ):
            head = {"sec-fetch-site": site, "sec-fetch-mode": mode, "sec-fetch-dest": dest}
            for path in ("/", f"/photo/{mark}", "/stores/stores.csv", "/record"):
                assert client.get(path, headers=head).status_code == 403
        opened = {"sec-fetch-site": site, "sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}
        assert client.get("/", headers=opened).status_code == 200
    own = {"sec-fetch-site": "same-origin", "sec-fetch-mode": "no-cors", "sec-fetch-dest": "image"}
    answer = client.get(f"/photo/{mark}", headers=own)
    assert (answer.status_code, answer.headers["cross-origin-resource-policy"]) == (200, "same-origin")


def test_names_that_others_chose_are_letters_on_every_page(client: TestClient, project: Project) -> None:
    set_object(project, actor=ANN, request_id="h1", noun="assembly", ref="DN-99", data={}, title=HOSTILE)
    form = {"ref": "DN-99-P1", "noun": "part", "name": HOSTILE, "request": "h2"}
    client.post("/airframe/new", data=form)
    work = {"what": "work", "hours": "1", "words": HOSTILE, "done": "no", "request": "h3"}
    assert client.post(f"/stage/{REF}/fit", data=work).status_code == 303
    redeem(
        project, code=make_pairing(project, actor=ANN, person=HOSTILE), name=HOSTILE, kind="tls", source="a"
    )
    told = 0
    for path in ("/", "/airframe", "/airframe/DN-99", "/record", "/record?words=script", "/phones", f"/operation/{REF}", "/plan/tasks", "/none/" + HOSTILE):  # fmt: skip
        text = client.get(path).text
        assert "<script>alert" not in text, path
        assert "<img src=x" not in text, path
        told += "&lt;script&gt;alert" in text
    assert told >= 4


def test_a_device_has_a_name_that_can_be_read(project: Project) -> None:
    for name in (
        "",
        " ",
        "a\nb",
        "a\u202eb",
        "\u3164",
        "\u2800\u2800",
        "a\u0301\u0301\u0301\u0301",
        "x" * 81,
    ):
        code = make_pairing(project, actor=ANN, person="Tom")
        with pytest.raises(OutOfRangeError):
            redeem(project, code=code, name=name, kind="tls", source="a")
        redeem(project, code=code, name="Säge 🛩 2", kind="tls", source="a")  # the code was not used up


def test_codes_are_guessed_in_vain_from_many_addresses(project: Project) -> None:
    """Each address waits for itself; a code that was shown stays good for who holds it."""
    code = make_pairing(project, actor=ANN, person="Tom")
    for number in range(8):
        guest = phone(project, OPEN, "http://192.168.1.20:8370", client=f"192.168.1.{100 + number}")
        head = {"origin": "http://192.168.1.20:8370"}
        answers: list[str] = []
        while "too many wrong codes" not in "".join(
            answers[-1:]
        ):  # a slow machine lets a first short wait pass
            assert len(answers) < 12
            answers.append(
                guest.post("/enter", data={"code": "AAAA-AAAA-AA", "name": "n"}, headers=head).text
            )
        assert not any(code.replace("-", "") in text for text in answers)
    held = phone(project, OPEN, "http://192.168.1.20:8370", client="192.168.1.50")
    form = {"code": code.lower().replace("-", " "), "name": "garage"}
    assert held.post("/enter", data=form, headers={"origin": "http://192.168.1.20:8370"}).status_code == 303


def test_an_adviser_calls_no_marks(project: Project) -> None:
    form = {"kind": "mark", "stage": "rivet", "hole": "1", "mark": "good", "from": "x"}
    for role, status in (("adviser", 403), ("helper", 204)):
        one = phone(project, SECURE, HTTPS)
        come_in(one, project, role)
        assert one.post(f"/live/{REF}/say", data=form, headers={"origin": HTTPS}).status_code == status


def test_a_phone_asks_for_each_photo_anew_and_is_shown_none_when_it_was_shut_out(project: Project) -> None:
    one, path = phone(project, SECURE, HTTPS), "/photo/" + photos(project, REF)[0]["thumb"]
    come_in(one, project)
    first = one.get(path)
    assert first.headers["cache-control"] == "private, no-cache"
    assert one.get(path, headers={"if-none-match": first.headers["etag"]}).status_code == 304
    revoke(project, actor=ANN, device=devices(project)[0].id)
    again = one.get(path, headers={"if-none-match": first.headers["etag"], "accept": "image/*"})
    assert again.status_code == 401


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"PK\x03\x04" + b"a" * 99, "a packed archive"),
        (b"%PDF-1.7\n", "a PDF"),
        (b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>", "another kind of file"),
        (b"", "an empty file"),
        (b"\xff\xd8\xff<html><script>", "header"),
        (b"\0\0\0\x18ftypheic" + b"a" * 500, "damaged or was cut off"),
    ],
)
def test_files_that_are_no_photo_get_a_sentence(client: TestClient, content: bytes, said: str) -> None:
    files = {"photo": ("../../etc/passwd", content, "image/png")}
    answer = client.post(f"/photo/add/{REF}", data={"request": "p1"}, files=files)
    assert answer.status_code == 422
    assert said in answer.text
    assert "object at 0x" not in answer.text
    assert "b&#39;" not in answer.text


def test_a_photos_name_is_a_word_and_never_a_path(client: TestClient, project: Project) -> None:
    picture = io.BytesIO()
    Image.new("RGB", (70, 50), (3, 2, 1)).save(picture, "PNG")
    files = {"photo": ("..\\../../record.sqlite\u202e", picture.getvalue(), "text/html")}
    assert client.post(f"/photo/add/{REF}", data={"request": "p2"}, files=files).status_code == 303
    kept = photos(project, REF)[-1]
    assert kept["name"] == "record.sqlite"
    assert client.get(f"/photo/{kept['digest']}").headers["content-type"] == "image/png"


def test_one_device_holds_so_many_answers_and_no_more(
    project: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Streams stay open: the one beyond the limit is told to wait, another device isn't."""
    monkeypatch.setattr(sessions, "MOST_AT_ONCE", 3)
    app = create_app(project, actor=ANN, served=SECURE)
    cookies = []
    for _ in range(2):
        cookies.append(come_in(phone(project, SECURE, HTTPS), project).partition(";")[0])

    async def run() -> list[int]:
        statuses: list[int] = []
        left = asyncio.Event()

        async def open_stream(cookie: str) -> None:
            async def receive() -> Message:
                await left.wait()
                return {"type": "http.disconnect"}

            async def send(message: Message) -> None:
                if message["type"] == "http.response.start":
                    statuses.append(message["status"])

            headers = [(b"host", b"192.168.1.20:8371"), (b"accept", b"text/event-stream"), (b"cookie", cookie.encode())]  # fmt: skip
            await app(
                {
                    "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "scheme": "https", "method": "GET", "path": f"/live/{REF}",
                    "raw_path": b"", "query_string": b"", "headers": headers, "client": ("192.168.1.9", 5), "server": ("192.168.1.20", 8371),
                },
                receive,
                send,
            )  # fmt: skip

        running = [asyncio.create_task(open_stream(cookies[0])) for _ in range(5)]
        while len(statuses) < 5:
            await asyncio.sleep(0.01)
        running.append(asyncio.create_task(open_stream(cookies[1])))
        while len(statuses) < 6:
            await asyncio.sleep(0.01)
        left.set()
        await asyncio.wait_for(asyncio.gather(*running), 10)
        # they ended: there is room again
        left.clear()
        again = asyncio.create_task(open_stream(cookies[0]))
        while len(statuses) < 7:
            await asyncio.sleep(0.01)
        left.set()
        await asyncio.wait_for(again, 10)
        return statuses

    statuses = asyncio.run(run())
    assert sorted(statuses[:5]) == [200, 200, 200, 429, 429]
    assert statuses[5:] == [200, 200]


def test_who_opens_most_connections_loses_the_oldest_of_them() -> None:
    with HomeListener(socket.AF_INET, most_each=3, most_together=5) as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()
        port = listening.getsockname()[1]

        def come(address: str) -> tuple[socket.socket, socket.socket]:
            one = socket.create_connection(("127.0.0.1", port), 3, source_address=(address, 0))
            return one, listening.accept()[0]

        pairs = [come("127.0.0.2") for _ in range(3)]
        pairs += [come("127.0.0.3") for _ in range(2)]
        assert [ended(one) for one, _ in pairs] == [False] * 5
        pairs.append(come("127.0.0.3"))  # a sixth in all: who holds most gives one up
        assert [ended(one) for one, _ in pairs] == [True, False, False, False, False, False]
        pairs.append(come("127.0.0.2"))  # the same again, of six: both hold three
        for one, served in pairs:
            one.close()
            served.close()
        fresh = [come("127.0.0.2") for _ in range(4)]
        assert [ended(one) for one, _ in fresh] == [True, False, False, False]
        for one, served in fresh:
            one.close()
            served.close()


def ended(one: socket.socket) -> bool:
    one.settimeout(0.02)
    try:
        return one.recv(1) == b""
    except TimeoutError:
        return False
