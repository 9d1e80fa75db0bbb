"""What the page fetches besides itself: runs as bytes, previews, and files that are dropped on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fastapi import Response

if TYPE_CHECKING:
    from fastapi import FastAPI

    from tickwright.workbench.session import Session


def add_routes(app: FastAPI, session: Session) -> None:
    """Let the page fetch what the session keeps for it."""

    @app.get("/bench/kept/{number}")
    def kept(number: int) -> Response:
        found = session.kept.get(number)
        if found is None:
            return Response("This is not kept any more.", status_code=404, media_type="text/plain")
        data, media_type = found
        return Response(data, media_type=media_type, headers={"cache-control": "no-store"})
