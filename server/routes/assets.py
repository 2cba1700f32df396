"""Assets: files as they came, known by the sha-256 of their bytes."""

import asyncio
import re
from typing import Any

from fastapi import APIRouter, Request
from starlette.datastructures import UploadFile
from starlette.responses import JSONResponse, Response

from server.headers import disposition
from server.house import House, TheHouse
from server.problems import Problem
from server.store import Asset
from server.workers.supervisor import LOST

__all__ = ["router"]

router = APIRouter(prefix="/assets", tags=["assets"])

_FORM = {
    "requestBody": {
        "required": True,
        "content": {
            "multipart/form-data": {
                "schema": {
                    "type": "object",
                    "required": ["file"],
                    "properties": {"file": {"type": "string", "format": "binary"}},
                }
            }
        },
    }
}
IN_A_FILE = ("line ", "tag ")  # places of an error that a person finds in the file; others are fields
_SUFFIX = {
    "image/png": ".png",
    "image/jpeg": ".jpg",
    "image/webp": ".webp",
    "image/bmp": ".bmp",
    "image/gif": ".gif",
    "image/svg+xml": ".svg",
    "text/csv": ".csv",
    "image/vnd.dxf": ".dxf",
    "font/ttf": ".ttf",
    "font/otf": ".otf",
    "font/collection": ".ttc",
}


@router.post("", status_code=201, openapi_extra=_FORM)
async def add_asset(request: Request, house: TheHouse) -> JSONResponse:
    """Keep a picture, a drawing or a measured grid. The same bytes again give the same id."""
    if not request.headers.get("content-type", "").lower().startswith("multipart/form-data"):
        raise Problem(415, "media-type")
    async with request.form(max_files=1, max_fields=8) as form:
        file = form.get("file")
        if not isinstance(file, UploadFile):
            fault: dict[str, object] = {"pointer": "", "given": "nothing", "allowed": "one file"}
            raise Problem(422, "invalid", errors=[fault | {"parameter": {"in": "form", "name": "file"}}])
        data = await file.read()
    asset = await keep(house, data)
    return JSONResponse(asset.document(), 201, {"Location": f"/api/assets/{asset.id}"})


async def keep(house: House, data: bytes) -> Asset:
    """Look at some bytes, in a worker, and keep them; a problem where they are nothing that we can use."""
    facts = await _facts(house, data)
    kind, media_type = facts.pop("kind"), facts.pop("media_type")
    try:
        return await asyncio.to_thread(house.assets.add, data, kind=kind, media_type=media_type, facts=facts)
    except OSError:
        raise Problem(507, "full") from None


async def _facts(house: House, data: bytes) -> dict[str, Any]:
    task = await house.look_at(data)
    await task.ended()
    if task.state == "done":
        return dict(task.value[0])
    error = task.error or {}
    if error.get("type") == "TooBigError":
        raise Problem(413, "artwork", detail=_words(error))
    if error.get("declared"):
        raise Problem(422 if error["type"] == "BlankError" else 415, "artwork", detail=_words(error))
    if error.get("type") in LOST:
        detail = "The worker that looked at it was lost: send the file again. Lost twice, the file is at fault."
        raise Problem(503, "busy", detail=detail, headers={"Retry-After": "5"})
    raise Problem(422, "artwork", detail="This file could not be read to its end.")


def _words(error: dict[str, Any]) -> str:
    """What is wrong, where in the file, and what helps."""
    place = error.get("where", "")
    at = f"{place}: " if place.startswith(IN_A_FILE) else ""
    hint = f" ({error['hint']})" if error.get("hint") else ""
    return f"{at}{error['message']}{hint}"


@router.get("/{asset}")
def get_asset(asset: str, house: TheHouse) -> Response:
    """The bytes as they came."""
    held = _held(house, asset)
    name = f"{held.id[:12]}{_SUFFIX.get(held.media_type, '.bin')}"
    headers = {"Content-Disposition": disposition(name), "ETag": f'"{held.id}"'}
    return Response(house.assets.read(held.id), media_type=held.media_type, headers=headers)


@router.get("/{asset}/facts")
def get_facts(asset: str, house: TheHouse) -> dict[str, Any]:
    """What was found of a file when it came in: its kind, its size, a drawing's layers."""
    return _held(house, asset).document()


def _held(house: House, asset: str) -> Asset:
    held = house.assets.find(asset) if re.fullmatch(r"[0-9a-f]{64}", asset) else None
    if held is None:
        raise Problem(404, "not-found")
    return held
