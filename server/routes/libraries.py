"""The shop's own libraries: machines, tools, materials. One set of routes, three shelves.

An entry is known by its name; a job names machines and tools by it. What an entry says is checked as a part of a job.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter
from starlette.responses import JSONResponse, Response

from server.bodies import IfMatch, JsonBody, json_documented, wrong
from server.house import House, TheHouse
from server.problems import Fault, Problem
from server.routes.materials import check_material
from server.store import Entry

__all__ = ["routers"]

_LEAST = {
    "schema": "roundwright.job/1",
    "name": "check",
    "blank": {"shape": "cylinder", "diameter_mm": 40, "length_mm": 40},
}
Check = Callable[[House, Mapping[str, Any]], None]


def _check_tool(house: House, value: Mapping[str, Any]) -> None:
    _check_part(house, {"tools": [value]}, "/tools/0")


def _check_machine(house: House, value: Mapping[str, Any]) -> None:
    if "profile" in value:
        raise wrong("/profile", "a field", "no field of this name: a stored profile stands on the default one")
    _check_part(house, {"machine": value}, "/machine")


def _check_part(house: House, part: Mapping[str, Any], at: str) -> None:
    """Check a part of a job by itself; its faults' pointers begin at the part."""
    try:
        house.check({**_LEAST, **part})
    except Problem as problem:
        faults = [e._replace(pointer=e.pointer.removeprefix(at)) for e in problem.errors if isinstance(e, Fault)]
        raise Problem(problem.status_code, problem.code, errors=faults) from None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shelf:
    """One library: what one entry of it is called, the field that holds its name, how it is checked."""

    name: str
    what: str
    field: str
    check: Check

    def named(self, house: House, value: Any, expected: str | None = None) -> str:
        """The entry's name, once the entry is proved good."""
        if not isinstance(value, Mapping):
            raise wrong("", "no object", "an object")
        name = value.get(self.field)
        if not isinstance(name, str) or not name:
            raise wrong(f"/{self.field}", None, "the name, 1 to 80 characters")
        if "/" in name or name == "default":
            raise wrong(f"/{self.field}", None, "a name without a slash, other than default")
        if expected is not None and name != expected:
            raise wrong(f"/{self.field}", None, "the name that the address says")
        self.check(house, value)
        return name

    def find(self, house: House, name: str) -> Entry:
        """The entry; 404 where there is none."""
        entry = house.libraries[self.name].find(name)
        if entry is None:
            raise Problem(404, "not-found")
        return entry

    def added(self, entry: Entry) -> JSONResponse:
        """A new entry, and where it is."""
        place = {"Location": f"/api/{self.name}/{quote(entry.id, safe='')}"}
        return JSONResponse(entry.value, 201, {"ETag": entry.etag} | place)


_SHELVES = (
    _Shelf(name="machines", what="machine", field="name", check=_check_machine),
    _Shelf(name="tools", what="tool", field="id", check=_check_tool),
    _Shelf(name="materials", what="material", field="name", check=check_material),
)


def routers() -> list[APIRouter]:
    """The routes of every shelf."""
    return [_router(shelf) for shelf in _SHELVES]


def _told(entry: Entry) -> JSONResponse:
    return JSONResponse(entry.value, headers={"ETag": entry.etag})


def _router(shelf: _Shelf) -> APIRouter:
    router = APIRouter(prefix=f"/{shelf.name}", tags=[shelf.name])
    what, body = shelf.what, json_documented(f"A {shelf.what}; its name is in `{shelf.field}`.")

    @router.get("", name=f"list {shelf.name}")
    def list_entries(house: TheHouse) -> dict[str, Any]:
        return {"items": [entry.value for entry in house.libraries[shelf.name].all()]}

    @router.post("", status_code=201, openapi_extra=body, name=f"add {what}")
    def add_entry(house: TheHouse, value: JsonBody) -> JSONResponse:
        name = shelf.named(house, value)
        if len(house.libraries[shelf.name].all()) >= house.settings.limits.library_entries:
            raise Problem(507, "full", detail="This library holds as many entries as it takes.")
        entry = house.libraries[shelf.name].create(name, value)
        if entry is None:
            raise Problem(409, "taken")
        return shelf.added(entry)

    @router.get("/{name}", name=f"get {what}")
    def get_entry(name: str, house: TheHouse) -> JSONResponse:
        return _told(shelf.find(house, name))

    @router.put("/{name}", openapi_extra=body, name=f"save {what}")
    def save_entry(name: str, house: TheHouse, etag: IfMatch, value: JsonBody) -> JSONResponse:
        shelf.find(house, name)
        shelf.named(house, value, name)
        try:
            entry = house.libraries[shelf.name].save(name, value, etag=etag)
        except LookupError:
            raise Problem(404, "not-found") from None
        if entry is None:
            raise Problem(412, "stale", headers={"ETag": shelf.find(house, name).etag})
        return _told(entry)

    @router.delete("/{name}", status_code=204, name=f"delete {what}")
    def delete_entry(name: str, house: TheHouse, etag: IfMatch) -> Response:
        try:
            deleted = house.libraries[shelf.name].delete(name, etag=etag)
        except LookupError:
            raise Problem(404, "not-found") from None
        if not deleted:
            raise Problem(412, "stale", headers={"ETag": shelf.find(house, name).etag})
        return Response(status_code=204)

    return router
