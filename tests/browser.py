"""Pages in real Chromium: opened from disk, with an ear for errors and for requests that leave the page."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

FLAGS = ["--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--no-sandbox"]


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
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
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
