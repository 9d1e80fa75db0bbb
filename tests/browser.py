"""Pages in real Chromium: opened from disk, with an ear for errors and for requests that leave the page."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

FLAGS = [
    "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--no-sandbox",
    "--disable-gpu-rasterization", "--disable-accelerated-2d-canvas",
]  # fmt: skip
PATIENCE_SECONDS = 180  # how long a state is waited for; CI has few cores
Found = TypeVar("Found")


@dataclass
class Opened:
    """A page, what it complained of, and what it asked for besides itself."""

    page: Any
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)


@contextmanager
def chromium(path: str) -> Iterator[Any]:
    """A browser that draws WebGL in software; `path` is the program."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS, timeout=1000 * PATIENCE_SECONDS)
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def opened(browser: Any, file: Path, before: str | None = None, **options: Any) -> Iterator[Opened]:
    """The page of a file, in a context of its own; `options` go to the context (viewport, color_scheme, ...).

    `before` is a script that runs before the page's own.
    """
    context = browser.new_context(**options)
    context.set_default_timeout(1000 * PATIENCE_SECONDS)
    page = context.new_page()
    if before is not None:
        page.add_init_script(before)
    seen = Opened(page)
    page.on("console", lambda message: seen.complaints.append(f"{message.type}: {message.text}"))
    page.on("pageerror", lambda error: seen.complaints.append(f"error: {error}"))
    page.on("request", lambda request: seen.requests.append(request.url))
    page.goto(file.as_uri())
    try:
        yield seen
    finally:
        context.close()


def eventually(get: Callable[[], Found], holds: Callable[[Found], object]) -> Found:
    """What `get` gives as soon as it holds, however slow the machine is."""
    deadline = time.monotonic() + PATIENCE_SECONDS
    while True:
        found = get()
        if holds(found):
            return found
        assert time.monotonic() < deadline, f"never came: it stays {str(found)[:200]}"
        time.sleep(0.05)


def until(page: Any, condition: str) -> None:
    """Wait for a condition in the page, whose policy forbids to leave the asking to it."""
    eventually(lambda: page.evaluate(f"[{condition}, {condition!r}]"), lambda found: found[0])
