"""A phone paired with two browsers, over https by an authority made here, and what it did read back on the command line."""

from __future__ import annotations

import base64
import hashlib
import json
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from filled import filled

pytestmark = pytest.mark.browser


OUTSIDE = "127.0.0.2"
"""Another address of this machine: what comes to it is served as the network's, and no network is needed."""


def test_pairing_by_two_browsers_over_tls(launch: Callable[..., Browser], tmp_path: Path) -> None:
    filled(tmp_path / "p").close()
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    here, there = f"http://127.0.0.1:{port}", f"https://{OUTSIDE}:{port + 1}"
    run = [sys.executable, "-m", "ribwright"]
    where = ["--project", str(tmp_path / "p")]
    serving = [
        "serve",
        "--lan",
        "--tls",
        "--port",
        str(port),
        "--keys",
        str(tmp_path / "keys"),
        "--address",
        OUTSIDE,
    ]
    server = subprocess.Popen([*run, *serving, *where], stdout=subprocess.DEVNULL)
    try:
        for _ in range(300):
            try:
                urllib.request.urlopen(f"{here}/enter", timeout=5).close()
                break
            except OSError:
                assert server.poll() is None
                time.sleep(0.1)
        # only this key is excused: a server with another certificate would not be reached
        browser = launch(f"--ignore-certificate-errors-spki-list={_pin(tmp_path)}")
        laptop, phone = browser.new_context().new_page(), browser.new_context().new_page()
        laptop.goto(f"{here}/phones")
        laptop.get_by_label("Who will use it").fill("Tom")
        laptop.get_by_label("As", exact=True).select_option("helper")
        laptop.get_by_role("button", name="Show a code").click()
        code = laptop.locator(".invited .big-answer").inner_text()
        phone.goto(f"{there}/enter?code={code}")
        phone.get_by_label("What to call this phone").fill("garage")
        phone.get_by_role("button", name="Come in").click()
        phone.goto(f"{there}/stage/DN-21-S01/drill")
        phone.locator('[name="hours"]').fill("1.25")
        phone.get_by_role("button", name="Log it").click()
        phone.wait_for_url("**/operation/**")
        laptop.goto(f"{here}/phones")
        laptop.get_by_role("button", name="Shut out garage").click()
        phone.goto(f"{there}/record")
        assert phone.url == f"{there}/enter"
        browser.close()
    finally:
        server.terminate()
        server.wait(15)
    listed = subprocess.run([*run, "phone", "list", "--json", *where], capture_output=True, check=True)
    assert json.loads(listed.stdout)[0]["revoked_at"]
    story = subprocess.run([*run, "record", "check", "--json", *where], capture_output=True, check=True)
    assert json.loads(story.stdout)["ok"] is True
    shown = subprocess.run(
        [*run, "operation", "show", "DN-21-S01", "--json", *where], capture_output=True, check=True
    )
    assert json.loads(shown.stdout)["stages"][1]["hours"] == "1.25"


def _pin(folder: Path) -> str:
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    leaf = x509.load_pem_x509_certificate(next((folder / "keys").glob("*/leaf.pem")).read_bytes())
    spki = leaf.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return base64.b64encode(hashlib.sha256(spki).digest()).decode()
