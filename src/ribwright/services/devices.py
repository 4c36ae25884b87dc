"""Phones and people who may come in: invited by a code that works once, shut out one at a time.

The token of a session lies only in the browser; the database keeps its digest, so that a copied
project lets nobody in. The same holds for pairing codes.
"""

from __future__ import annotations

import hashlib
import secrets
import unicodedata
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from ribwright.core.record.entry import ROLES, check_name
from ribwright.errors import ConflictError, OutOfRangeError, RefusedError, UnknownNameError
from ribwright.services.project import Actor, Project
from ribwright.store import devices as stored
from ribwright.store import schema

CODE_MINUTES = 10
SESSION_DAYS = {"tls": 90, "plain": 1}
"""How long a session lasts. On plain http anybody in the network can read it: one day."""

FREE_TRIES = 5
MAX_WAIT_S = 900
_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"  # nothing that is read as something else
_BLANKS = "\u115f\u1160\u2800\u3164\uffa0"  # letters and signs that show nothing
_FORMAT = "%Y-%m-%dT%H:%M:%SZ"


@dataclass(frozen=True, slots=True)
class Device:
    """A paired phone or an invited person.

    Attributes:
        id: names it in the list; no secret.
        name: such as "phone in the garage".
        person: who uses it.
        role: builder, helper, adviser or inspector.
        kind: "tls" or "plain"; a plain one can enter and look, but neither sign nor close.
        made_at, seen_at, expires_at, revoked_at: times, UTC; revoked_at is "" while it is let in.
    """

    id: str
    name: str
    person: str
    role: str
    kind: str
    made_at: str
    seen_at: str
    expires_at: str
    revoked_at: str

    @property
    def actor(self) -> Actor:
        """Who acts when this device sends a form."""
        return Actor(self.person, self.role, self.kind)


def make_pairing(project: Project, *, actor: Actor, person: str, role: str = "builder") -> str:
    """A code that lets one device in, once, within ``CODE_MINUTES``.

    Args:
        project: an open project.
        actor: the builder.
        person: who will use the device.
        role: as what.

    Returns:
        The code, such as ``7KQ4-MX2P-9T``. It is shown, and kept nowhere.

    Raises:
        RefusedError: only the builder invites, and only at this machine.
        UnknownNameError: no such role.
    """
    _only_builder_here(actor, "invitation")
    check_name(person, "person")
    if role not in ROLES:
        raise UnknownNameError("role", found=role, allowed=", ".join(ROLES))
    letters = "".join(secrets.choice(_LETTERS) for _ in range(10))
    code = f"{letters[:4]}-{letters[4:8]}-{letters[8:]}"
    now = project.now()
    with project.store.write() as connection:
        stored.forget_old_codes(connection, project.id, now)
        row = {
            "project": project.id,
            "code_digest": _digest(project, letters),
            "person": person,
            "role": role,
            "made_at": now,
            "expires_at": _later(now, timedelta(minutes=CODE_MINUTES)),
            "used_at": "",
        }
        stored.put(connection, schema.pairing, row)
    return code


def redeem(project: Project, *, code: str, name: str, kind: str, source: str) -> tuple[Device, str]:
    """Turn a code into a session.

    Args:
        project: an open project.
        code: as typed or read from the picture.
        name: of the device, for the list.
        kind: "tls" or "plain".
        source: where it was tried from (the address); wrong codes from there must wait longer and longer.

    Returns:
        The device, and the token for its cookie: new with every pairing, kept nowhere here.

    Raises:
        RefusedError: wrong, used, too old, or tried too often from there.
    """
    check_device_name(name)
    if kind not in SESSION_DAYS:
        raise UnknownNameError("kind of session", found=kind, allowed="tls, plain")
    letters = "".join(character for character in code.upper() if character.isalnum())[:40]
    now = project.now()
    token = secrets.token_urlsafe(32)
    refusal: RefusedError | None = None
    with project.store.write() as connection:
        throttle = stored.find(connection, schema.throttle, project.id, source=source[:80]) or {
            "project": project.id,
            "source": source[:80],
            "failures": 0,
            "until": "",
        }
        if throttle["until"] > now:
            raise RefusedError(
                "pairing code", because="too many wrong codes from here", mend="Wait a little, then try again"
            )
        pairing = stored.find(connection, schema.pairing, project.id, code_digest=_digest(project, letters))
        device = None
        if pairing is None or pairing["used_at"] or pairing["expires_at"] <= now:
            failures = throttle["failures"] + 1
            wait_s = 0 if failures < FREE_TRIES else min(MAX_WAIT_S, 2 ** min(failures - FREE_TRIES + 1, 20))
            # A throttle without a wait stays for a while, so that slow guessing is counted as well.
            until = _later(now, timedelta(seconds=wait_s)) if wait_s else ""
            stored.put(connection, schema.throttle, throttle | {"failures": failures, "until": until})
            refusal = RefusedError(
                "pairing code", because="it is wrong, used or too old", mend="Have a new one shown"
            )
        else:
            stored.put(connection, schema.pairing, pairing | {"used_at": now})
            stored.put(connection, schema.throttle, throttle | {"failures": 0, "until": ""})
            row = {
                "project": project.id,
                "device": secrets.token_hex(8),
                "name": name,
                "person": pairing["person"],
                "role": pairing["role"],
                "kind": kind,
                "token_digest": _digest(project, token),
                "made_at": now,
                "seen_at": now,
                "expires_at": _later(now, timedelta(days=SESSION_DAYS[kind])),
                "revoked_at": "",
            }
            stored.put(connection, schema.device, row)
            device = _device(row)
    if device is None:
        # Raised after the transaction, so that the failure stays counted.
        raise refusal or RefusedError("pairing code")
    return device, token


def check_device_name(name: str) -> str:
    """Refuse what can't be read in the list of devices, where the one to shut out is looked for.

    Raises:
        OutOfRangeError: empty, too long, nothing that shows, or marks heaped on a letter.
    """
    check_name(name, "device name")
    shown = unicodedata.normalize("NFC", name)
    kinds = "".join(unicodedata.category(character)[0] for character in shown)
    if not shown.strip(f" {_BLANKS}") or "MMM" in kinds:
        raise OutOfRangeError("device name", found=name, allowed="1 to 80 characters that can be read")
    return name


def device_of(project: Project, token: str) -> Device | None:
    """The device of a session's token; None when it was shut out, ran out, or never was."""
    if not 20 <= len(token) <= 200:
        return None
    now = project.now()
    with project.store.read() as connection:
        row = stored.seen(connection, project.id, _digest(project, token))
    if row is None or row["revoked_at"] or row["expires_at"] <= now:
        return None
    if row["seen_at"][:13] != now[:13] and not project.store.read_only:
        # Noted once an hour: a page view must not cost a durable write.
        with project.store.write() as connection:
            again = stored.find(connection, schema.device, project.id, device=row["device"])
            if again is not None and not again["revoked_at"]:
                stored.put(connection, schema.device, again | {"seen_at": now})
    return _device(row | {"seen_at": now})


def was_shut_out(project: Project, token: str) -> bool:
    """Whether a session's token belongs to a device that was let in once and shut out since."""
    if not 20 <= len(token) <= 200:
        return False
    with project.store.read() as connection:
        row = stored.seen(connection, project.id, _digest(project, token))
    return row is not None and bool(row["revoked_at"])


def revoke(project: Project, *, actor: Actor, device: str) -> Device:
    """Shut one device out; its session ends at once.

    Raises:
        RefusedError: only the builder does.
        UnknownNameError: no such device.
        ConflictError: it was shut out already.
    """
    _only_builder_here(actor, "device")
    with project.store.write() as connection:
        row = stored.find(connection, schema.device, project.id, device=device[:80])
        if row is None:
            raise UnknownNameError("device", found=device, mend="See the list of devices")
        if row["revoked_at"]:
            raise ConflictError("device", found=row["name"], because="it was shut out already")
        row = row | {"revoked_at": project.now()}
        stored.put(connection, schema.device, row)
    return _device(row)


def leave(project: Project, token: str) -> None:
    """A device lets itself out; an unknown token is nothing to do."""
    with project.store.write() as connection:
        row = stored.seen(connection, project.id, _digest(project, token))
        if row is not None and not row["revoked_at"]:
            stored.put(connection, schema.device, row | {"revoked_at": project.now()})


def rename(project: Project, *, actor: Actor, device: str, name: str) -> Device:
    """Give a device another name. Errors as ``revoke``."""
    _only_builder_here(actor, "device")
    check_device_name(name)
    with project.store.write() as connection:
        row = stored.find(connection, schema.device, project.id, device=device[:80])
        if row is None:
            raise UnknownNameError("device", found=device, mend="See the list of devices")
        row = row | {"name": name}
        stored.put(connection, schema.device, row)
    return _device(row)


def devices(project: Project) -> tuple[Device, ...]:
    """Every device that was ever let in, the newest first."""
    with project.store.read() as connection:
        return tuple(_device(row) for row in stored.every_device(connection, project.id))


def _device(row: stored.Row) -> Device:
    names = ("name", "person", "role", "kind", "made_at", "seen_at", "expires_at", "revoked_at")
    return Device(row["device"], *(row[name] for name in names))


def _only_builder_here(actor: Actor, field: str) -> None:
    """A phone that was stolen must not let others in, nor shut its owner out."""
    if actor.role != "builder" or actor.way != "here":
        found = f"{actor.name}, {actor.role}" + ("" if actor.way == "here" else ", on a phone")
        raise RefusedError(field, found=found, allowed="the builder, at the laptop itself")


def _digest(project: Project, secret: str) -> str:
    return hashlib.sha256(f"{project.id}\n{secret}".encode()).hexdigest()


def _later(at: str, by: timedelta) -> str:
    try:
        return (datetime.strptime(at, _FORMAT).replace(tzinfo=UTC) + by).strftime(_FORMAT)
    except OverflowError as error:
        raise OutOfRangeError("time", found=at) from error
