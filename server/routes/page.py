"""The page itself."""

from fastapi import APIRouter
from starlette.responses import HTMLResponse

from server.house import TheHouse
from server.templates import bench_html

__all__ = ["router"]

router = APIRouter(include_in_schema=False)


@router.get("/")
def get_page(house: TheHouse) -> HTMLResponse:
    """The bench."""
    initial = {"api": "/api", "open_job": house.open_job, "version": house.version}
    return HTMLResponse(bench_html(initial))
