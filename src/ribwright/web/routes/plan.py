"""Plan: when it flies, how sure, what moves the date, what to order by when."""

from __future__ import annotations

from itertools import groupby

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.services.plan import plan_standing, resume_plan, stop_plan
from ribwright.services.plan_export import plan_calendar, plan_tasks_csv
from ribwright.services.plan_schedule import stop_work_order, work_order_standing
from ribwright.services.plan_tonight import dry_in_words, missing_items, waiting_view
from ribwright.web.pages import page, project_of
from ribwright.web.posting import posting, see_other

PATIENCE_S = 2.0
"""So long a page waits for a plan that is not worked out yet; then it shows how far it is."""
RETRY_S = 10
"""After so long a calendar program may ask again for dates that are not worked out yet."""


def plan(request: Request) -> Response:
    """The plan as it stands today, as far as it is worked out."""
    standing = plan_standing(project_of(request), wait=PATIENCE_S)
    if standing.error is not None:
        raise standing.error
    context = {"title": "Plan", "view": standing.result, "says": standing.says, "running": standing.running}
    return page(request, "plan.html", context)


def waiting(request: Request) -> Response:
    """What is left to do while an item is missing."""
    project, ref = project_of(request), request.query_params.get("item", "")[:200]
    view = waiting_view(project, ref, wait=PATIENCE_S) if ref else None
    found = view.standing.result if view is not None else None
    context = {
        "title": "While waiting", "items": missing_items(project), "view": view, "ref": ref,
        "words": dry_in_words(found) if found is not None else "",
    }  # fmt: skip
    return page(request, "plan_waiting.html", context)


def order_of_work(request: Request) -> Response:
    """One order of work for the whole plan, month by month, and how far it is from the shortest."""
    standing = work_order_standing(project_of(request), wait=PATIENCE_S)
    if standing.error is not None:
        raise standing.error
    found = standing.result
    months = (
        [(month, list(rows)) for month, rows in groupby(found.rows, lambda row: f"{row.first:%B %Y}")]
        if found
        else []
    )
    context = {
        "title": "Order of work", "found": found, "months": months, "says": standing.says, "running": standing.running,
    }  # fmt: skip
    return page(request, "plan_order_of_work.html", context)


def stop_order_of_work(request: Request, form: dict[str, str]) -> Response:
    """Stop the search; the best so far stays."""
    stop_work_order(project_of(request))
    return see_other("/plan/order-of-work")


def calendar(request: Request) -> Response:
    """Order-by dates and the pilot's windows for any calendar program; until they are worked out, ask again later."""
    project = project_of(request)
    standing = plan_standing(project, wait=PATIENCE_S)
    if standing.error is not None:
        raise standing.error
    view = standing.result
    if view is None or not view.complete:
        if not standing.running:  # one that was stopped has no dates: it is worked out again
            resume_plan(project)
            standing = plan_standing(project)
        context = {"title": "Plan", "view": view, "says": standing.says or "begun", "running": True}
        answer = page(request, "plan.html", context, status=503)
        answer.headers["retry-after"] = str(RETRY_S)
        return answer
    headers = {"content-disposition": 'attachment; filename="plan.ics"'}
    return Response(plan_calendar(project, view), media_type="text/calendar", headers=headers)


def tasks(request: Request) -> Response:
    """Every task of the plan as a list."""
    headers = {"content-disposition": 'attachment; filename="tasks.csv"'}
    return Response(plan_tasks_csv(project_of(request)), media_type="text/csv", headers=headers)


def stop(request: Request, form: dict[str, str]) -> Response:
    """Stop working it out; what there is of it stays."""
    stop_plan(project_of(request))
    return see_other("/plan")


def go_on(request: Request, form: dict[str, str]) -> Response:
    """Work a plan that was stopped out again."""
    resume_plan(project_of(request))
    return see_other("/plan")


ROUTES = [
    Route("/plan", plan, name="plan"),
    Route("/plan/calendar.ics", calendar, name="plan_calendar"),
    Route("/plan/tasks.csv", tasks, name="plan_tasks"),
    Route("/plan/waiting", waiting, name="while_waiting"),
    Route("/plan/order-of-work", order_of_work, name="order_of_work"),
    Route(
        "/plan/order-of-work/stop", posting(stop_order_of_work), methods=["POST"], name="stop_order_of_work"
    ),
    Route("/plan/stop", posting(stop), methods=["POST"], name="stop_plan"),
    Route("/plan/go-on", posting(go_on), methods=["POST"], name="go_on_with_plan"),
]
