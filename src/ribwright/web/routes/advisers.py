"""Advisers of this build: whom it lets answer its questions, with a form that invites and one that takes it back."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.errors import InputError, RefusedError, UnknownNameError
from ribwright.services.advisers import invitations, set_adviser
from ribwright.web.forms import new_request_id
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other

DOES = ("invite", "withdraw")


def advisers(request: Request, form: dict[str, str]) -> Response:
    """The page, and what its forms do."""
    project, actor = project_of(request), actor_of(request)
    mistake = ""
    if request.method == "POST":
        what = form.get("what", "")
        if what not in DOES:
            raise UnknownNameError("what", found=what, allowed=", ".join(DOES))
        try:
            set_adviser(
                project, actor=actor, request_id=form.get("request", ""), name=form.get("name", "").strip(), invited=what == "invite",
                shares=form.get("shares") == "yes",
            )  # fmt: skip
        except RefusedError:
            raise
        except InputError as refused:
            mistake = refused.sentence()
        else:
            return see_other("/advisers")
    every = invitations(project)
    context = {
        "title": "Advisers", "inside": [one for one in every if one.invited], "before": [one for one in every if not one.invited],
        "form": form if mistake else {}, "mistake": mistake, "request_id": new_request_id, "alone": project.folder is not None,
        "where": project.where.partition("#")[0], "may": actor.role == "builder",
    }  # fmt: skip
    return page(request, "advisers.html", context, status=422 if mistake else 200)


ROUTES = [Route("/advisers", posting(advisers), methods=["GET", "POST"], name="advisers")]
