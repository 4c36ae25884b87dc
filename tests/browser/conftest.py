"""A real server on a free port and Debian's Chromium."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from filled import filled
from serving import Running, serve

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def launch() -> Iterator[Callable[..., Browser]]:
    """Starts Debian's Chromium, with more flags where a test needs its own."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        if os.environ.get("CI"):
            pytest.fail("Chromium is not installed")
        pytest.skip("Chromium is not installed")
    with sync_playwright() as play:
        yield lambda *flags: play.chromium.launch(executable_path=path, args=[*FLAGS, *flags])


@pytest.fixture(scope="session")
def chromium(launch: Callable[..., Browser]) -> Iterator[Browser]:
    browser = launch()
    yield browser
    browser.close()


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Running]:
    filled(tmp_path / "p").close()
    yield from serve(tmp_path / "p")


@pytest.fixture
def page(chromium: Browser, served: Running) -> Iterator[Page]:
    context = chromium.new_context(base_url=served.url, viewport={"width": 1280, "height": 900})
    made = context.new_page()
    errors: list[str] = []
    made.on("pageerror", lambda error: errors.append(str(error)))
    made.on(
        "console",
        lambda message: (
            errors.append(message.text)
            if message.type == "error" and "status of 4" not in message.text
            else None
        ),
    )
    yield made
    context.close()
    assert not errors, errors


@pytest.fixture
def phone(chromium: Browser, served: Running) -> Iterator[Page]:
    context = chromium.new_context(
        base_url=served.url,
        viewport={"width": 390, "height": 844},
        device_scale_factor=2,
        has_touch=True,
        is_mobile=True,
    )
    yield context.new_page()
    context.close()
