"""Pairing: once, for a short time, not by guessing; and out again, one device at a time."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from ribwright.errors import ConflictError, RefusedError, UnknownNameError
from ribwright.services.devices import device_of, devices, make_pairing, redeem, rename, revoke
from ribwright.services.project import Actor, Project

BUILDER = Actor("Ann Bell", "builder")
HELPER = Actor("Tom", "helper")


class Clock:
    def __init__(self) -> None:
        self.at = datetime(2026, 3, 1, 18, tzinfo=UTC)

    def __call__(self) -> str:
        return self.at.strftime("%Y-%m-%dT%H:%M:%SZ")

    def on(self, **by: float) -> None:
        self.at += timedelta(**by)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def shop(project: Project, clock: Clock) -> Project:
    return replace(project, now=clock)


def test_a_code_lets_one_device_in_once(shop: Project) -> None:
    code = make_pairing(shop, actor=BUILDER, person="Tom", role="helper")
    device, token = redeem(
        shop, code=code.lower().replace("-", " "), name="phone", kind="tls", source="10.0.0.7"
    )
    assert (device.person, device.role, device.actor) == ("Tom", "helper", Actor("Tom", "helper", "tls"))
    assert device_of(shop, token) == device
    with pytest.raises(RefusedError, match="used"):
        redeem(shop, code=code, name="other", kind="tls", source="10.0.0.8")
    assert device_of(shop, token + "x") is None
    assert device_of(shop, "") is None


def test_a_code_runs_out_and_so_does_a_session(shop: Project, clock: Clock) -> None:
    code = make_pairing(shop, actor=BUILDER, person="Ann Bell")
    clock.on(minutes=10)
    with pytest.raises(RefusedError):
        redeem(shop, code=code, name="phone", kind="tls", source="a")
    code = make_pairing(shop, actor=BUILDER, person="Ann Bell")
    _, token = redeem(shop, code=code, name="phone", kind="plain", source="a")
    clock.on(hours=23)
    seen = device_of(shop, token)
    assert seen is not None
    assert seen.seen_at == clock()
    clock.on(hours=1)
    assert device_of(shop, token) is None


def test_guessing_must_wait_longer_and_longer(shop: Project, clock: Clock) -> None:
    code = make_pairing(shop, actor=BUILDER, person="Ann Bell")
    for _ in range(5):
        with pytest.raises(RefusedError, match="wrong"):
            redeem(shop, code="AAAA-AAAA-AA", name="x", kind="tls", source="guest")
    with pytest.raises(RefusedError, match="too many"):
        redeem(shop, code=code, name="x", kind="tls", source="guest")
    clock.on(seconds=2)
    with pytest.raises(RefusedError, match="wrong"):
        redeem(shop, code="AAAA-AAAA-AB", name="x", kind="tls", source="guest")
    clock.on(seconds=3)
    with pytest.raises(RefusedError, match="too many"):
        redeem(shop, code=code, name="x", kind="tls", source="guest")
    assert redeem(shop, code=code, name="x", kind="tls", source="elsewhere")


def test_a_device_is_let_out_by_itself(shop: Project) -> None:
    tokens = []
    for name in ("one", "two"):
        code = make_pairing(shop, actor=BUILDER, person="Ann Bell")
        tokens.append(redeem(shop, code=code, name=name, kind="tls", source="a")[1])
    one = next(device for device in devices(shop) if device.name == "one")
    with pytest.raises(RefusedError):
        revoke(shop, actor=HELPER, device=one.id)
    revoke(shop, actor=BUILDER, device=one.id)
    assert device_of(shop, tokens[0]) is None
    assert device_of(shop, tokens[1]) is not None
    with pytest.raises(ConflictError):
        revoke(shop, actor=BUILDER, device=one.id)
    with pytest.raises(UnknownNameError):
        revoke(shop, actor=BUILDER, device="'; --")
    assert rename(shop, actor=BUILDER, device=one.id, name="old phone").name == "old phone"
    with pytest.raises(RefusedError):
        make_pairing(shop, actor=HELPER, person="Eve")


def test_one_code_tried_by_many_at_once_lets_one_in(shop: Project) -> None:
    code = make_pairing(shop, actor=BUILDER, person="Ann Bell")

    def attempt(number: int) -> bool:
        try:
            redeem(shop, code=code, name=f"phone {number}", kind="tls", source=f"10.0.0.{number}")
        except RefusedError:
            return False
        return True

    with ThreadPoolExecutor(8) as threads:
        assert sum(threads.map(attempt, range(16))) == 1


def test_secrets_are_not_in_the_database(shop: Project) -> None:
    from sqlalchemy import text

    code = make_pairing(shop, actor=BUILDER, person="Ann Bell")
    _, token = redeem(shop, code=code, name="phone", kind="tls", source="a")
    with shop.store.read() as connection:
        for table in ("device", "pairing", "throttle"):
            rows = repr(connection.execute(text(f"SELECT * FROM {table}")).all())
            assert rows != "[]"
            assert token not in rows
            assert code.replace("-", "") not in rows.replace("-", "")
