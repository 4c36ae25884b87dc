"""The skin in the round: turned by keys, button and finger, without an accessibility fault."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from playwright.sync_api import Page

pytestmark = pytest.mark.browser
AXE = (Path(__file__).parent / "vendor" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
EXAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "skin-view.toml"

SEND = """(flat) => {
  const form = document.createElement('form');
  form.method = 'post';
  form.action = '/calc/skin-view/skin';
  for (const [name, value] of Object.entries(flat)) {
    const one = document.createElement('input');
    one.name = name; one.value = value; form.append(one);
  }
  document.body.append(form);
  form.submit();
}"""


def test_it_turns_by_key_button_and_finger_and_reads_a_place(phone: Page) -> None:
    flat: dict[str, str] = {}
    for key, value in tomllib.loads(EXAMPLE.read_text(encoding="utf-8")).items():
        if isinstance(value, list):
            flat |= {f"{key}.{n}.{name}": cell for n, row in enumerate(value) for name, cell in row.items()}
        else:
            flat[key] = value
    phone.goto("/calc/skin-view")
    with phone.expect_navigation():
        phone.evaluate(SEND, flat)
    phone.evaluate(AXE)
    faults = phone.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
    assert not [v["id"] for v in faults if v["impact"] in ("serious", "critical")]
    picture = "document.getElementById('skin').toDataURL()"
    phone.wait_for_function("document.getElementById('skin').width > 300")
    seen = [phone.evaluate(picture)]
    phone.focus("#skin")
    phone.keyboard.press("ArrowLeft")
    seen.append(phone.evaluate(picture))
    phone.get_by_role("button", name="tip up").click()
    seen.append(phone.evaluate(picture))
    phone.locator("#skin").scroll_into_view_if_needed()
    box = phone.locator("#skin").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    phone.mouse.move(x, y)
    phone.mouse.down()
    phone.mouse.move(x + 60, y - 10, steps=3)
    phone.mouse.up()
    seen.append(phone.evaluate(picture))
    assert len(set(seen)) == 4
    phone.get_by_role("button", name="as at first").click()
    assert phone.evaluate(picture) == seen[0]
    for step in range(40):  # somewhere along the line through the middle lies the skin
        phone.mouse.move(box["x"] + box["width"] * (0.1 + 0.02 * step), y)
        if phone.inner_text(".skin-place").startswith("Station"):
            break
    assert phone.inner_text(".skin-place").startswith("Station")
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    assert phone.evaluate(
        "[...document.querySelectorAll('.skin-view button')].every(b => b.getBoundingClientRect().height >= 44)"
    )


def test_full_size_pages_have_no_serious_fault(phone: Page) -> None:
    from seams import REF

    for path in ("/full-size", f"/operation/{REF}/full-size"):
        phone.goto(path)
        # The page's own policy forbids foreign scripts: axe is evaluated from outside, not loaded.
        phone.evaluate(AXE)
        found = phone.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
        assert not [v["id"] for v in found if v["impact"] in ("serious", "critical")], path
        assert phone.evaluate("document.documentElement.scrollWidth") <= 390
