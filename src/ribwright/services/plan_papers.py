"""The papers before the first flight hung into the plan: each once, where the starter's own tasks already name it."""

from __future__ import annotations

from dataclasses import replace

from ribwright.core.planning.tasks import Task

COUNTERPARTS = {
    "paper-registration": "registration", "paper-marks": "marks", "paper-weighing": "weighing", "paper-evidence": "record-complete",
    "paper-application": "application", "paper-second-look": "own-inspection", "paper-inspection": "inspection",
}  # fmt: skip
"""Paper, and the starter's task that is the same work."""
WAITS = ("registration", "application", "inspection")
"""Of these the paper's lead time is an office's and nobody's work; the others' was for arranging them."""
BEFORE_FLIGHT = ("paper-limits", "paper-insurance")


def with_papers(tasks: tuple[Task, ...], papers: tuple[Task, ...]) -> tuple[Task, ...]:
    """The starter's tasks with the papers: those that both name are one task, under the starter's key.

    Args:
        tasks: as chosen of the starter; without any, no paper is added.
        papers: one task a paper.
    """
    if not tasks:
        return ()
    there = {task.key for task in tasks}
    same = {paper: key for paper, key in COUNTERPARTS.items() if key in there}
    by_key = {same[paper.key]: paper for paper in papers if paper.key in same}

    def needs(paper: Task) -> tuple[str, ...]:
        return tuple(same.get(need, need) for need in paper.needs)

    known = {paper.key for paper in papers}
    out = []
    for task in tasks:
        paper = by_key.get(task.key)
        if paper is not None:
            wait = max(task.cure_hours, paper.cure_hours) if task.key in WAITS else task.cure_hours
            task = replace(
                task, needs=tuple(dict.fromkeys((*task.needs, *needs(paper)))), cure_hours=wait, done=task.done or paper.done,
                source=f"{task.source}; {paper.source}",
            )  # fmt: skip
        if task.key == "first-flight":
            task = replace(task, needs=(*task.needs, *(key for key in BEFORE_FLIGHT if key in known)))
        out.append(task)
    out += [replace(paper, needs=needs(paper)) for paper in papers if paper.key not in same]
    return tuple(out)
