"""Photos: taken in by content and size, shown by their mark."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.errors import InputError, MissingError, UnknownNameError, UnreadablePhotoError
from ribwright.services.photo_offers import Held, hold_photos, place_photo
from ribwright.services.photos import add_photo, check_header, photo_content
from ribwright.services.record import objects
from ribwright.web.forms import new_request_id
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other, taken
from ribwright.web.sessions import device_here
from ribwright.web.uploads import LARGEST_WORDS, ROOM

_SHOWN = ("image/jpeg", "image/png", "image/webp")


async def add(request: Request) -> Response:
    """Keep a photo with an operation or part; whatever name it came with is only a caption."""
    ref = request.path_params["ref"]
    async with request.form(max_files=1, max_fields=16, max_part_size=LARGEST_WORDS) as form, ROOM:
        sent = form.get("photo")
        if not isinstance(sent, UploadFile):
            raise MissingError("photo", allowed="a JPEG, PNG, WebP or HEIC", mend="Choose a photo.")
        content = await sent.read()
        name = (sent.filename or "").replace("\\", "/").rsplit("/", 1)[-1][:80]
        caption, request_id = str(form.get("caption", ""))[:200], str(form.get("request", ""))
        stage = str(form.get("stage", ""))[:80]

        def keep() -> Response:
            add_photo(
                project_of(request), actor=actor_of(request), request_id=request_id, content=content, about=ref,
                name="".join(c for c in name if c.isprintable()), caption="".join(c for c in caption if c.isprintable()), stage=stage,
            )  # fmt: skip
            return see_other(request.url_for("object", ref=ref).path)

        return await taken(request, {"request": request_id}, keep)


MOST_AT_ONCE = 60


async def folder(request: Request) -> Response:
    """Photos from a camera or a folder: sent many at once, then each is offered to the operation that it fits."""
    held: tuple[Held, ...] = ()
    if request.method == "POST":
        async with (
            request.form(max_files=MOST_AT_ONCE, max_fields=4, max_part_size=LARGEST_WORDS) as form,
            ROOM,
        ):
            sent = [
                ((one.filename or "").replace("\\", "/"), await one.read())
                for one in form.getlist("photos")
                if isinstance(one, UploadFile) and one.size
            ]
            if not sent:
                raise MissingError(
                    "photos", allowed="JPEG, PNG, WebP or HEIC", mend="Choose one or more photos."
                )
            held = await run_in_threadpool(hold_photos, project_of(request), sent, actor=actor_of(request))
    return await run_in_threadpool(_folder_page, request, held, "")


def _folder_page(request: Request, held: tuple[Held, ...], mistake: str) -> Response:
    context = {
        "title": "Photos from a camera", "held": held, "request_id": new_request_id(), "mistake": mistake,
        "operations": objects(project_of(request), noun="operation") if held else (), "most": MOST_AT_ONCE,
    }  # fmt: skip
    return page(request, "photos.html", context, status=422 if mistake else 200)


def place(request: Request, form: dict[str, str]) -> Response:
    """Take in each photo that was given an operation; the others are left out."""
    project = project_of(request)
    held = tuple(
        Held(form[f"mark.{n}"], form.get(f"name.{n}", ""), form.get(f"taken.{n}", "")[:19], form.get(f"about.{n}", "").strip())
        for n in range(MOST_AT_ONCE)
        if form.get(f"mark.{n}")
    )  # fmt: skip
    for number, one in enumerate(held):
        if not one.about:
            continue
        try:
            place_photo(
                project, actor=actor_of(request), request_id=f"{form.get('request', '')}-{number}", mark=one.mark,
                about=one.about, name=one.name, caption=form.get(f"caption.{number}", "")[:200],
            )  # fmt: skip
        except InputError as refused:
            return _folder_page(request, held[number:], refused.sentence())
    return see_other(request.url_for("record").path + "?words=photo")


def show(request: Request) -> Response:
    """A kept photo by its mark. Only picture types are ever sent, and the browser is told not to guess."""
    mark = request.path_params["mark"]
    if len(mark) != 64 or any(c not in "0123456789abcdef" for c in mark):
        raise UnknownNameError("photo", found=mark[:20], allowed="the mark of a kept photo")
    headers = {
        "cache-control": "private, max-age=31536000, immutable",
        "content-security-policy": "default-src 'none'",
    }
    if (
        device_here(request) is not None
    ):  # a phone asks each time: shut out, it shows none that it has seen before
        headers |= {"cache-control": "private, no-cache", "etag": f'"{mark}"'}
        if request.headers.get("if-none-match") == headers["etag"]:
            return Response(status_code=304, headers=headers)
    content, media = photo_content(project_of(request), mark)
    try:
        shown = media in _SHOWN and check_header(content) == media
    except (
        UnreadablePhotoError
    ):  # kept as it was sent, and larger than can be opened: not for a browser to try
        shown = False
    if not shown:
        media = "application/octet-stream"
        headers["content-disposition"] = "attachment"
    return Response(content, media_type=media, headers=headers)


ROUTES = [
    Route("/photo/add/{ref}", add, methods=["POST"], name="add_photo"),
    Route("/photo/{mark}", show, name="photo"),
    Route("/photos", folder, methods=["GET", "POST"], name="photos"),
    Route("/photos/place", posting(place), methods=["POST"], name="place_photos"),
]
