"""The application, wired: stores and workers, routes, the one problem shape, the gate around all of it."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from starlette.staticfiles import StaticFiles

from server import problems
from server.gate import Gate
from server.hosts import own_names
from server.house import House
from server.routes import assets, faces, jobs, libraries, measure, page, phone, pictures, plans, prove
from server.settings import Settings

__all__ = ["create_app"]


def create_app(settings: Settings) -> FastAPI:
    """The application on its data folder. OSError where the folder or its database cannot be used."""
    house = House(settings)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        house.open()
        yield
        await house.close()

    app = FastAPI(
        title="Roundwright",
        version=house.version,
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
    )
    app.state.house = house
    problems.install(app)
    for router in (
        assets.router,
        faces.router,
        plans.router,
        jobs.router,
        prove.router,
        pictures.router,
        phone.router,
        measure.router,
        *libraries.routers(),
    ):
        app.include_router(router, prefix="/api")
    app.include_router(page.router)
    app.mount("/static", StaticFiles(packages=[("web", "static")]), name="static")
    app.add_middleware(Gate, hosts=own_names(settings.port), limits=settings.limits)
    return app
