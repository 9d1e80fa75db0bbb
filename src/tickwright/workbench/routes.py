"""What the page fetches besides itself: runs as bytes, previews, and files that are dropped on it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import PurePath
from typing import TYPE_CHECKING

from fastapi import Request, Response
from fastapi.staticfiles import StaticFiles

from tickwright import TickwrightError, loads
from tickwright.errors import UsageError
from tickwright.publish import FONT_FOLDER
from tickwright.workbench.colours import FONTS

if TYPE_CHECKING:
    from fastapi import FastAPI

    from tickwright.workbench.session import Session


def add_page(app: FastAPI, build: Callable[[], object]) -> None:
    """Let the page be built at the address of the workbench, and nothing at any other."""
    from nicegui import ui

    @ui.page("/")
    def page() -> None:
        build()

    @app.exception_handler(404)
    async def nothing(_: Request, error: Exception) -> Response:
        said = str(getattr(error, "detail", "")) or "There is nothing here"
        return Response(f"{said}: the workbench is at /", status_code=404, media_type="text/plain; charset=utf-8")


def add_routes(app: FastAPI, session: Session) -> None:
    """Let the page fetch what the session keeps for it, and its letters."""
    app.mount(FONTS, StaticFiles(directory=FONT_FOLDER))

    @app.get("/bench/kept/{number}")
    def kept(number: int) -> Response:
        found = session.kept.get(number)
        if found is None:
            return Response("This is not kept any more.", status_code=404, media_type="text/plain")
        data, media_type = found
        return Response(data, media_type=media_type, headers={"cache-control": "no-store"})

    @app.post("/bench/drop")
    async def drop(request: Request, name: str) -> Response:
        try:
            said = _dropped(session, PurePath(name.replace("\\", "/")).stem, await request.body())
        except TickwrightError as error:
            return Response(str(error), status_code=400, media_type="text/plain; charset=utf-8")
        return Response(said, media_type="text/plain; charset=utf-8")


def _dropped(session: Session, name: str, data: bytes) -> str:
    """Open a plan file that was dropped, as a new file of the folder. Raises TickwrightError if it is none."""
    try:
        plan = loads(data.decode("utf-8"), checked=False)
    except UnicodeDecodeError:
        raise UsageError("The file is not text in UTF-8, as a plan file is.") from None
    session.folder.place(f"{name}.toml")
    session.open_copy(name, plan)
    return f"Opened as {session.document.path.name}."
