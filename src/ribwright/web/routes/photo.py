"""Photos: taken in by content and size, shown by their mark."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.errors import MissingError, UnknownNameError
from ribwright.services.photos import add_photo, photo_content
from ribwright.web.pages import actor_of, project_of
from ribwright.web.posting import see_other
from ribwright.web.security import LARGEST_UPLOAD

_SHOWN = ("image/jpeg", "image/png", "image/webp")


async def add(request: Request) -> Response:
    """Keep a photo with an operation or part; whatever name it came with is only a caption."""
    ref = request.path_params["ref"]
    async with request.form(max_files=1, max_fields=8, max_part_size=LARGEST_UPLOAD) as form:
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

    return await run_in_threadpool(keep)


def show(request: Request) -> Response:
    """A kept photo by its mark. Only picture types are ever sent, and the browser is told not to guess."""
    mark = request.path_params["mark"]
    if len(mark) != 64 or any(c not in "0123456789abcdef" for c in mark):
        raise UnknownNameError("photo", found=mark[:20], allowed="the mark of a kept photo")
    content, media = photo_content(project_of(request), mark)
    if media not in _SHOWN:
        media = "application/octet-stream"
    headers = {
        "cache-control": "private, max-age=31536000, immutable",
        "content-security-policy": "default-src 'none'",
    }
    return Response(content, media_type=media, headers=headers)


ROUTES = [
    Route("/photo/add/{ref}", add, methods=["POST"], name="add_photo"),
    Route("/photo/{mark}", show, name="photo"),
]
