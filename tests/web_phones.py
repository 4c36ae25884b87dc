"""Phones in the network at home, as clients in this process."""

from __future__ import annotations

from starlette.testclient import TestClient

from filled import ANN
from ribwright.services.devices import make_pairing
from ribwright.services.network import Served
from ribwright.services.project import Project
from ribwright.web.app import create_app

HOME = ("192.168.1.20",)
HTTP, HTTPS = "http://192.168.1.20:8370", "https://192.168.1.20:8371"
OPEN = Served(HOME, ("garage.local",), 8370)
SECURE = Served(HOME, ("garage.local",), 8370, 8371, b"certificate", "AA:BB")


def phone(project: Project, served: Served, base: str, *, client: str = "192.168.1.9") -> TestClient:
    app = create_app(project, actor=ANN, served=served)
    return TestClient(
        app, base_url=base, client=(client, 50000), follow_redirects=False, headers={"accept": "text/html"}
    )


def come_in(client: TestClient, project: Project, role: str = "builder", **more: str) -> str:
    code = make_pairing(project, actor=ANN, person="Tom", role=role)
    origin = str(client.base_url).rstrip("/")
    answer = client.post("/enter", data={"code": code, "name": "phone"}, headers={"origin": origin})
    assert answer.status_code == 303, answer.text
    return answer.headers["set-cookie"]
