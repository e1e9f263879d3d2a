"""Pairing and paired devices."""

from __future__ import annotations

import io
from typing import Annotated

import segno
from fastapi import APIRouter, Depends, Request, Response
from pydantic import Field

from bandwright.service import devices as service
from bandwright.service.devices import Role
from bandwright.web.exact import Exact, ExactRoute
from bandwright.web.hub import AGAIN, OUT
from bandwright.web.models import REFUSALS, Asked, MeModel, Shape, me_of
from bandwright.web.names import lan_addresses
from bandwright.web.pairing import Offer, Wait, WrongCode
from bandwright.web.refusals import RefusedError
from bandwright.web.serving import Asker, Here, Serving
from bandwright.web.sessions import Me

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["devices"], route_class=ExactRoute, responses=REFUSALS)


def _local(me: Asker) -> Me:
    if not me.local:
        raise RefusedError(403, "laptop-only", "Only the laptop that serves may do that.")
    return me


Laptop = Annotated[Me, Depends(_local)]


class PairingWish(Asked):
    """Which role the code is to give."""

    role: Role


class PairingOffer(Shape):
    """A code that stands: shown on the laptop, typed or photographed by the device, once."""

    code: str
    expires: str
    url: str
    qr_svg: str
    role: Role
    notice: str


class PairWish(Asked):
    """What a device that wants in sends: the code, and the name by which the crew is to know it."""

    code: Annotated[str, Field(max_length=40)]
    name: Annotated[str, Field(max_length=200)]


class DevicesAnswer(Shape):
    """All devices, and whether the network reaches this laptop at all."""

    devices: list[service.DeviceLine]
    lan: bool
    notice: str


class DeviceWish(Asked):
    """Another name or role; what is absent stays."""

    name: Annotated[str, Field(max_length=200)] | None = None
    role: Role | None = None


NOTICE = (
    "Devices that are not paired are refused. What paired devices send and get is not secret: it goes unencrypted, and "
    "anybody on the same network can read it. Use a network of your own."
)


@router.get("/pairing", response_model=PairingOffer | None)
def standing_code(here: Here, me: Laptop) -> Response:
    """Return the code that stands, or null."""
    offer = here.pairing.standing()
    return Exact(None if offer is None else _offered(here, offer))


@router.post("/pairing", response_model=PairingOffer)
def make_code(here: Here, me: Laptop, wish: PairingWish) -> Response:
    """Make a code that lets one device in; one that stood before is void."""
    return Exact(_offered(here, here.pairing.offer(wish.role)))


@router.delete("/pairing", status_code=204)
def withdraw_code(here: Here, me: Laptop) -> Response:
    """Take the code back."""
    here.pairing.withdraw()
    return Response(status_code=204)


@router.post("/pair", response_model=MeModel)
def pair(request: Request, here: Here, wish: PairWish) -> Response:
    """Let this device in by the code that the laptop shows; the answer sets the cookie that it is known by."""
    peer = request.client.host if request.client else "unknown"
    name = service.device_name(wish.name)  # before the code, which works once
    try:
        offer = here.pairing.redeem(wish.code, peer=peer)
    except WrongCode as error:
        text = "That code is not right, was used already, or has expired."
        raise RefusedError(403, "wrong-code", text, hint="Ask for a new one on the laptop.") from error
    except Wait as error:
        text = f"Too many tries: wait {error.seconds} s."
        headers = {"Retry-After": str(error.seconds)}
        raise RefusedError(429, "too-many-tries", text, headers=headers) from error
    device, token = service.pair_device(here.desk, name=name, role=offer.role, who=here.sessions.own_name)
    _know(here)
    answer = Exact(me_of(Me(name=device.name, role=device.role, uid=device.uid)))
    answer.headers["Set-Cookie"] = here.sessions.cookie(token, keep=service.KEPT)
    return answer


@router.get("/devices", response_model=DevicesAnswer)
def all_devices(here: Here, me: Asker) -> Response:
    """Return every device that was ever paired with this job."""
    present = here.hub.here()
    found = [device.line(me=me.uid, here=present) for device in service.devices_of(here.desk)]
    return Exact({"devices": found, "lan": here.lan, "notice": NOTICE})


@router.patch("/devices/{uid}", response_model=service.DeviceLine)
def change(here: Here, me: Laptop, uid: str, wish: DeviceWish) -> Response:
    """Give a device another name or role."""
    device = service.change_device(here.desk, uid, name=wish.name, role=wish.role, who=me.name)
    _know(here)
    here.hub.close(uid, AGAIN)
    return Exact(device.line(me=me.uid, here=here.hub.here()))


@router.delete("/devices/{uid}", response_model=service.DeviceLine)
def shut_out(here: Here, me: Laptop, uid: str) -> Response:
    """Shut a device out, at once and for good."""
    device = service.revoke_device(here.desk, uid, who=me.name)
    _know(here)
    here.hub.close(uid, OUT)
    return Exact(device.line(me=me.uid, here=()))


def _know(here: Serving) -> None:
    here.sessions.know(service.devices_of(here.desk))


def _offered(here: Serving, offer: Offer) -> PairingOffer:
    host = next(iter(lan_addresses()), "127.0.0.1") if here.lan else "127.0.0.1"
    url = f"http://{host}:{here.names.port}/#/pair/{offer.code}"
    return PairingOffer(
        code=offer.code,
        expires=offer.expires.isoformat(timespec="seconds"),
        url=url,
        qr_svg=_qr(url),
        role=offer.role,
        notice=NOTICE,
    )


def _qr(text: str) -> str:
    """Return a QR code as an SVG element without a style of its own: black modules on nothing, a quiet zone around."""
    written = io.BytesIO()
    segno.make_qr(text, error="m").save(
        written, kind="svg", xmldecl=False, svgclass=None, lineclass=None, omitsize=True, border=4
    )
    return written.getvalue().decode().strip()
