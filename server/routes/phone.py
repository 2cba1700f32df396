"""The phone's door, from the bench: open it, follow what comes in, close it."""

from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Depends, FastAPI, Request
from starlette.responses import JSONResponse, Response, StreamingResponse

from server.bodies import JsonBody, json_documented
from server.event_stream import event_stream
from server.house import House
from server.phone import AddressError, Door, PhoneLimits, Session, lan_address, taken_address
from server.problems import Fault, Problem
from server.routes.assets import keep

__all__ = ["router"]

HERE = "/api/measure/phone"


@asynccontextmanager
async def _with_door(app: FastAPI) -> AsyncIterator[None]:
    """The door lives as long as the server: closed before the workers stop."""
    house: House = app.state.house
    limits = PhoneLimits()
    app.state.phone = Door(keep=partial(keep, house), limits=limits, upload_bytes=house.settings.limits.upload_bytes)
    yield
    await app.state.phone.close()


router = APIRouter(prefix="/measure/phone", tags=["measure"], lifespan=_with_door)


def _door(request: Request) -> Door:
    door: Door = request.app.state.phone
    return door


TheDoor = Annotated[Door, Depends(_door)]


def _session(door: TheDoor) -> Session:
    if door.session is None:
        raise Problem(404, "not-found", detail="No page for a phone is open: open one from the bench.")
    return door.session


TheSession = Annotated[Session, Depends(_session)]


@router.post("", status_code=201, openapi_extra=json_documented("{angles_deg: [...], address?: of this machine}"))
async def open_door(door: TheDoor, body: JsonBody) -> JSONResponse:
    """Open a page on the local network through which a phone brings one photograph for each angle. A page that was open
    before is closed. {url, qr_svg, close, events, open, photographs: [{number, angle_deg, asset}]}.
    """
    angles_deg, address = _asked(body)
    try:
        address = taken_address(address) if address is not None else lan_address()
        await door.open(angles_deg, address)
    except AddressError as exc:
        raise _no_address(str(exc)) from None
    except OSError:
        raise _no_address("Nothing can listen at this address: it is not one of this machine's own.") from None
    return JSONResponse(_document(door), 201, {"Location": HERE})


@router.get("")
async def get_door(door: TheDoor) -> JSONResponse:
    """The open page and what has come through it; {open: false} where there is none."""
    return JSONResponse(_document(door))


@router.delete("", status_code=204)
async def close_door(door: TheDoor) -> Response:
    """Close the page. Photographs that have come stay."""
    await door.close()
    return Response(status_code=204)


@router.get("/events", response_class=StreamingResponse)
async def door_events(session: TheSession, request: Request) -> StreamingResponse:
    """The state as server-sent events, one at each change, until the page is closed."""
    heartbeat_s = request.app.state.house.settings.limits.heartbeat_s
    return event_stream(session.changes, session.for_bench, heartbeat_s=heartbeat_s)


def _document(door: Door) -> dict[str, Any]:
    session = door.session
    if session is None:
        return {"open": False}
    door_facts = {"url": door.url, "qr_svg": door.qr_svg(), "close": HERE, "events": f"{HERE}/events"}
    return door_facts | session.for_bench()


def _asked(body: Any) -> tuple[list[float], str | None]:
    """The angles and the address of a body; a 422 problem with every fault."""
    most = PhoneLimits().photographs
    if not isinstance(body, Mapping):
        raise Problem(422, "invalid", errors=[Fault("", "no object", "an object {angles_deg, address}")])
    angles, address = body.get("angles_deg"), body.get("address")
    faults = []
    if set(body) - {"angles_deg", "address"}:
        faults.append(Fault("", "a field more", "the fields angles_deg and address, no other"))
    if not isinstance(angles, list) or not 1 <= len(angles) <= most:
        faults.append(Fault("/angles_deg", None, f"a list of 1 to {most} angles"))
    else:
        faults += [Fault(f"/angles_deg/{i}", None, "degrees, -36000 to 36000") for i, a in enumerate(angles) if _odd(a)]
    if address is not None and not (isinstance(address, str) and len(address) <= 45):
        faults.append(Fault("/address", None, "an address of this machine, or nothing"))
    if faults:
        raise Problem(422, "invalid", errors=faults)
    return [float(a) for a in angles or ()], address


def _odd(angle: object) -> bool:
    if isinstance(angle, bool) or not isinstance(angle, int | float):
        return True
    return not -36000.0 <= angle <= 36000.0


def _no_address(words: str) -> Problem:
    return Problem(422, "invalid", detail=words, errors=[Fault("/address", None, "an address of this machine")])
