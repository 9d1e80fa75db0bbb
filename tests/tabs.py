"""A page of the workbench without a browser: what a tab sends and hears over its socket, and no more."""

from __future__ import annotations

import asyncio
import html
import json
import re
import uuid
from typing import Any

import aiohttp
import socketio

PATIENCE_SECONDS = 300.0
ELEMENTS = re.compile(r"parseElements\(String\.raw`(.*?)`\)", re.DOTALL)
CLIENT = re.compile(r"'client_id': '([0-9a-f-]+)'")


class Tab:
    """An open page. One that does not listen acknowledges nothing, as a tab that the browser has put to sleep."""

    def __init__(self, address: str, listens: bool = True) -> None:
        self.address = address
        self.listens = listens
        self.heard: asyncio.Queue[str] = asyncio.Queue()
        self._looked_at: list[str] = []
        self._socket = socketio.AsyncClient(reconnection=False)
        self._socket.on("*", self._hear)
        self._client = ""
        self._next_id = 0
        self._elements: dict[str, Any] = {}
        self._edits = ("", "")

    async def __aenter__(self) -> Tab:
        """Get the page, as soon as somebody answers there, and begin to hear."""
        page = await asyncio.wait_for(self._page(), PATIENCE_SECONDS)
        self._client = CLIENT.findall(page)[0]
        self._elements = json.loads(html.unescape(ELEMENTS.findall(page)[0]))
        self._edits = next(
            (number, event["listener_id"])
            for number, one in self._elements.items()
            for event in one.get("events", ())
            if event["type"] == "edit"
        )
        query = {"client_id": self._client, "tab_id": str(uuid.uuid4()), "document_id": str(uuid.uuid4())}
        asked = "&".join(f"{name}={value}" for name, value in query.items())
        await self._socket.connect(
            f"{self.address}?{asked}&implicit_handshake=true&next_message_id=0",
            headers={"Origin": self.address.rstrip("/")},
            transports=["websocket"],
            socketio_path="/_nicegui_ws/socket.io",
        )
        return self

    async def _page(self) -> str:
        async with aiohttp.ClientSession() as web:
            while True:
                try:
                    async with web.get(self.address) as answer:
                        return await answer.text()
                except aiohttp.ClientConnectorError:
                    await asyncio.sleep(0.05)

    async def _hear(self, event: str, *told: Any) -> None:
        said = told[0] if told else None
        await self.heard.put(f"{event} {json.dumps(said, ensure_ascii=False)}")
        if isinstance(said, dict) and "_id" in said:
            self._next_id = said["_id"] + 1
            if self.listens:
                await self._acknowledge()

    async def _acknowledge(self) -> None:
        await self._socket.emit("ack", {"client_id": self._client, "next_message_id": self._next_id})

    async def wake(self) -> None:
        """From now on acknowledge what comes, and what came."""
        self.listens = True
        await self._acknowledge()

    async def edit(self, **asked: Any) -> None:
        """Ask for an edit, as the layer view does."""
        number, listener = self._edits
        what = {"id": int(number), "client_id": self._client, "listener_id": listener, "args": [json.dumps(asked)]}
        await self._socket.emit("event", what)

    async def until_told(self, method: str) -> None:
        """Wait until the layer view is told to do that."""
        while f'runMethod({self._edits[0]}, \\"{method}\\"' not in await self._next():
            pass

    def read(self, text: str) -> bool:
        """Whether the page was told that text, so far as it has looked."""
        while not self.heard.empty():
            self._looked_at.append(self.heard.get_nowait())
        return any(text in one for one in self._looked_at)

    def forget(self) -> None:
        """Forget what it was told up to now."""
        self.read("")
        self._looked_at.clear()

    async def _next(self) -> str:
        said = await asyncio.wait_for(self.heard.get(), PATIENCE_SECONDS)
        self._looked_at.append(said)
        return said

    async def __aexit__(self, *_: object) -> None:
        await self._socket.disconnect()
