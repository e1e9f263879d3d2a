"""Paired devices of a job: who may come in from the network, and who may no longer. The file holds no token."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Collection
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from typing import Literal

from bandwright.core.words import is_one_line
from bandwright.errors import InputError
from bandwright.service.desk import Desk
from bandwright.store import Device as Row

__all__ = [
    "KEPT",
    "Device",
    "DeviceLine",
    "Role",
    "change_device",
    "device_name",
    "device_seen",
    "devices_of",
    "other_names",
    "pair_device",
    "revoke_device",
    "token_hash",
]

Role = Literal["edit", "look"]

KEPT = timedelta(days=30)
_LONGEST_NAME = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceLine:
    """A device that was paired with the job, as it is told; `me` is the one that asks, `here` has a page open."""

    uid: str
    name: str
    role: Role
    paired: datetime
    expires: datetime | None
    last_seen: datetime | None
    revoked: datetime | None
    me: bool = False
    here: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Device(DeviceLine):
    """A device that was paired with the job, with the hash that its token is known by; that is told to nobody."""

    token_sha256: str

    def line(self, *, me: str | None, here: Collection[str | None]) -> DeviceLine:
        """Return what is told of it to the device `me`, while those in `here` have a page open."""
        told = {field.name: getattr(self, field.name) for field in fields(DeviceLine)}
        return DeviceLine(**{**told, "me": self.uid == me, "here": self.uid in here})


def token_hash(token: str) -> str:
    """Return what the file keeps of a token."""
    return hashlib.sha256(token.encode(errors="replace")).hexdigest()


def devices_of(desk: Desk) -> tuple[Device, ...]:
    """Return all devices that were ever paired with a job, in that order."""
    return tuple(map(_device, desk.file.devices()))


def pair_device(desk: Desk, *, name: str, role: Role, who: str) -> tuple[Device, str]:
    """Let a device in for 30 days; return it and its token, which is nowhere but with the device.

    Raises
    ------
    InputError
        When the name is empty, too long, or holds what cannot be printed.
    """
    token = secrets.token_urlsafe(32)
    with desk.lock:
        name = _free_name(desk, device_name(name), besides=who)
        expires = desk.context.now() + KEPT
        desk.change(
            lambda draft: draft.add_device(name, role=role, token_sha256=token_hash(token), expires_at=expires),
            who=who,
            what=f"{name} paired",
        )
        row = desk.file.device_with(token_hash(token))
    assert row is not None
    return _device(row), token


def change_device(desk: Desk, uid: str, *, name: str | None, role: Role | None, who: str) -> Device:
    """Give a device another name or role; None leaves it.

    Raises
    ------
    InputError
        When there is no such device, or the name is none.
    """
    before = _one(desk, uid)
    new_name = before.name if name is None else device_name(name)
    if new_name != before.name:
        new_name = _free_name(desk, new_name, besides=who, own=uid)
    new_role: Role = role or before.role
    may = "may edit" if new_role == "edit" else "may look"
    what = f"{before.name} {may}" if new_name == before.name else f"{before.name} is called {new_name} and {may}"
    desk.change(lambda draft: draft.set_device(uid, name=new_name, role=new_role), who=who, what=what)
    return _one(desk, uid)


def revoke_device(desk: Desk, uid: str, *, who: str) -> Device:
    """Shut a device out.

    Raises
    ------
    InputError
        When there is no such device.
    """
    before = _one(desk, uid)
    desk.change(lambda draft: draft.revoke_device(uid), who=who, what=f"{before.name} shut out")
    return _one(desk, uid)


def device_seen(desk: Desk, uid: str) -> None:
    """Note that a device was here just now; nothing that the history tells about."""
    desk.file.see_device(uid)


def _one(desk: Desk, uid: str) -> Device:
    for row in desk.file.devices():
        if row.uid == uid:
            return _device(row)
    raise InputError.single("no-such-device", "there is no such device.", given=uid)


def _device(row: Row) -> Device:
    return Device(
        uid=row.uid,
        name=row.name,
        role="edit" if row.role == "edit" else "look",
        token_sha256=row.token_sha256,
        paired=_moment(row.paired_at),
        expires=_moment(row.expires_at) if row.expires_at else None,
        last_seen=_moment(row.last_seen) if row.last_seen else None,
        revoked=_moment(row.revoked_at) if row.revoked_at else None,
    )


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(microsecond=0)


def device_name(given: str) -> str:
    """Return the name of a device on one line.

    Raises
    ------
    InputError
        When it is empty, too long, or holds what cannot be printed.
    """
    name = " ".join(given.split())
    if not name or len(name) > _LONGEST_NAME or not is_one_line(name):
        raise InputError.single(
            "device-name",
            "a device needs a name by which the crew knows it.",
            key="name",
            given=given[:200],
            allowed=f"1 to {_LONGEST_NAME} printable letters",
            hint='For example "Ana\'s phone".',
        )
    return name


def other_names(desk: Desk, who: str) -> tuple[str, ...]:
    """Return what else somebody at a paired device was called; what they did under that name is theirs still."""
    with desk.file.snapshot():
        names = (_names(desk, row) for row in desk.file.devices() if row.revoked_at is None and row.name == who)
        return tuple(sorted({name for found in names for name in found} - {who}))


def _names(desk: Desk, row: Row) -> set[str]:
    """Return all names that a device has had."""
    images = (event.after or {} for event in desk.file.events_about(row.uid) if event.noun == "device")
    return {row.name, *(str(image["name"]) for image in images if "name" in image)}


def _free_name(desk: Desk, name: str, *, besides: str, own: str | None = None) -> str:
    """Return the name, with a number where another device has or had it: the history and undo tell people by it."""
    others = (row for row in desk.file.devices() if row.revoked_at is None and row.uid != own)
    taken = {besides}.union(*(_names(desk, row) for row in others))
    free = name
    number = 1
    while free in taken:
        number += 1
        free = f"{name} {number}"
    return free
