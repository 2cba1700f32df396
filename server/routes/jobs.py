"""Stored jobs: every save is a revision; an overwrite says which revision it follows (RFC 9110 13.1.1, RFC 6585 3)."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Header
from starlette.responses import JSONResponse, Response

from server.bodies import IfMatch, JsonBody, json_documented, unchanged
from server.house import TheHouse
from server.problems import Problem
from server.routes.plans import Prefer, answer
from server.store import Saved

__all__ = ["router"]

router = APIRouter(prefix="/jobs", tags=["jobs"])
_BODY = json_documented("A job document, roundwright.job/1.")


def _told(saved: Saved, status: int = 200) -> JSONResponse:
    headers = {"ETag": saved.etag}
    if status == 201:
        headers["Location"] = f"/api/jobs/{saved.id}"
    return JSONResponse(saved.document(), status, headers)


def _job(job: str, house: TheHouse) -> Saved:
    saved = house.jobs.find(job)
    if saved is None:
        raise Problem(404, "not-found")
    return saved


TheJob = Annotated[Saved, Depends(_job)]


def _stale(house: TheHouse, name: str) -> Problem:
    held = house.jobs.find(name)
    return Problem(412, "stale", headers={"ETag": held.etag} if held else {})


@router.get("")
def list_jobs(house: TheHouse) -> dict[str, Any]:
    """The stored jobs, the last saved first."""
    return {"items": [saved.facts() for saved in house.jobs.listed(house.settings.limits.jobs_listed)]}


@router.post("", status_code=201, openapi_extra=_BODY)
def add_job(house: TheHouse, document: JsonBody) -> JSONResponse:
    """Store a new job."""
    house.check(document)
    return _told(house.jobs.create(document), 201)


@router.get("/{job}")
def get_job(saved: TheJob, if_none_match: Annotated[str | None, Header()] = None) -> Response:
    """The job as last saved: {id, revision, name, saved_at, job}."""
    if unchanged(if_none_match, saved.etag):
        return Response(status_code=304, headers={"ETag": saved.etag})
    return _told(saved)


@router.put("/{job}", openapi_extra=_BODY)
def save_job(job: str, saved: TheJob, house: TheHouse, etag: IfMatch, document: JsonBody) -> JSONResponse:
    """Save over the revision that If-Match names."""
    house.check(document)
    return _saved_over(house, job, document, etag)


@router.delete("/{job}", status_code=204)
def delete_job(job: str, saved: TheJob, house: TheHouse, etag: IfMatch) -> Response:
    """Delete a job with all its revisions."""
    try:
        deleted = house.jobs.delete(job, etag=etag)
    except LookupError:
        raise Problem(404, "not-found") from None
    if not deleted:
        raise _stale(house, job)
    return Response(status_code=204)


@router.get("/{job}/revisions")
def list_revisions(saved: TheJob, house: TheHouse) -> dict[str, Any]:
    """Every save of the job, the last first."""
    return {"items": [each.facts() for each in house.jobs.revisions(saved.id)]}


@router.get("/{job}/revisions/{revision}")
def get_revision(saved: TheJob, revision: int, house: TheHouse) -> JSONResponse:
    """One save of the job."""
    return _told(_revision(house, saved.id, revision))


@router.post("/{job}/revisions/{revision}/restore")
def restore_revision(saved: TheJob, revision: int, house: TheHouse, etag: IfMatch) -> JSONResponse:
    """Save an earlier revision anew over the one that If-Match names."""
    document = _revision(house, saved.id, revision).document()["job"]
    return _saved_over(house, saved.id, document, etag)


@router.post("/{job}/plan", status_code=202)
async def plan_job(saved: TheJob, house: TheHouse, prefer: Prefer = None) -> JSONResponse:
    """Plan the job as last saved."""
    return await answer(house, saved.document()["job"], prefer)


def _revision(house: TheHouse, name: str, revision: int) -> Saved:
    found = house.jobs.find(name, revision) if 0 < revision < 1 << 62 else None
    if found is None:
        raise Problem(404, "not-found")
    return found


def _saved_over(house: TheHouse, name: str, document: Any, etag: str) -> JSONResponse:
    try:
        saved = house.jobs.save(name, document, etag=etag)
    except LookupError:
        raise Problem(404, "not-found") from None
    if saved is None:
        raise _stale(house, name)
    return _told(saved)
