"""axe-core finds nothing serious on any page, phone in daylight and desk in the dark."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from seams import NOSE_REF, REF
from serving import Running

pytestmark = pytest.mark.browser
AXE = (Path(__file__).parent / "vendor" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
PAGES = (
    "/", "/airframe", "/airframe/DN-21", "/airframe/DN-2101", f"/operation/{REF}", f"/operation/{REF}/worksheet", f"/operation/{REF}/edit", f"/operation/{REF}/like",
    "/operation/new?in=DN-21", f"/tally/{REF}", f"/tally/{REF}?as=shooter", f"/twist/{REF}/rivet", "/waiting", f"/stage/{REF}/rivet", f"/stage/{REF}/fit", "/checks", "/stores", "/stores/mix", "/stores/tonight", "/portion", "/portion/W01",
    "/plan", "/plan/settings", "/plan/take-in", "/plan/make-or-buy", "/plan/waiting?item=engine", "/plan/order-of-work", "/?hours=2&who=alone&temperature=15+°C", "/plan/order/engine", "/plan/tasks?words=engine", "/plan/task/weighing", "/weight", "/flight", "/flight/data/sawtooth-climbs", "/calc", "/calc/seam", "/record", "/record/3", "/record/enter/notice", "/photos", "/none",
)  # fmt: skip
LESS_OFTEN = (
    "/walk", "/operation/take-in", "/full-size", f"/operation/{REF}/full-size", f"/operation/{REF}/spoiled", f"/operation/{NOSE_REF}/gauges", f"/photo/gauge/{REF}-G01", f"/operation/{NOSE_REF}/rolled",
    f"/discrepancy/note/{REF}", "/plan/task", "/plan/order", "/flight/data/stall-speed", "/stores/item/BAG", "/enter", "/trust", "/phones", "/advisers",
)  # fmt: skip
"""The rest of the route table: on the phone only, with everything unfolded."""


@pytest.mark.parametrize("look", ["phone-light", "desk-dark"])
def test_nothing_serious(chromium: Browser, served: Running, look: str) -> None:
    size = {"width": 390, "height": 844} if look.startswith("phone") else {"width": 1280, "height": 900}
    # the page's own policy forbids foreign scripts; axe is put in around it, for this test only
    context = chromium.new_context(
        base_url=served.url,
        viewport=size,
        color_scheme="dark" if look.endswith("dark") else "light",
        bypass_csp=True,
        service_workers="block",  # it would ask for further pages meanwhile
    )  # type: ignore[arg-type]
    # by an address, so that the browser reads its half a megabyte once and not for each page
    context.route("**/axe.js", lambda asked: asked.fulfill(body=AXE, content_type="text/javascript"))
    page = context.new_page()
    found = []
    page.goto("/checks")
    open_one = page.locator("a[href^='/discrepancy/D']").first.get_attribute("href") or ""
    for path in PAGES if look.endswith("dark") else (*PAGES, *LESS_OFTEN, open_one):
        answer = page.goto(path)
        assert answer is not None
        assert answer.status == (404 if path == "/none" else 200), path
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        page.add_script_tag(url="/axe.js")
        violations = page.evaluate(
            "axe.run(document, {resultTypes: ['violations']}).then((all) => all.violations)"
        )
        found += [
            f"{path}: {v['id']} ({v['impact']}): {v['nodes'][0]['html'][:120]}"
            for v in violations
            if v["impact"] in ("serious", "critical")
        ]
    context.close()
    assert not found, "\n".join(found)
