"""A workbench in a process of its own, and its page in real Chromium."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from contextlib import contextmanager

from playwright.sync_api import expect, sync_playwright

from browser import FLAGS

PATIENCE = 40_000  # ms; CI has few cores
SAID = re.compile(r"http://127\.0\.0\.1:(\d+)/")


class Bench:
    """A workbench in a process of its own, and the address of its page."""

    def __init__(self, folder, state, *words):
        with socket.socket() as trial:
            trial.bind(("127.0.0.1", 0))
            self.port = trial.getsockname()[1]
        command = [
            sys.executable,
            "-m",
            "tickwright",
            "workbench",
            str(folder),
            "--no-browser",
            "--port",
            str(self.port),
        ]
        environment = {**os.environ, "TICKWRIGHT_STATE": str(state)}
        environment.pop("PYTEST_CURRENT_TEST", None)  # NiceGUI would take the server for a test of its own
        self.process = subprocess.Popen([*command, *words], stderr=subprocess.PIPE, text=True, env=environment)
        line = self.process.stderr.readline()
        assert SAID.search(line), line + self.process.stderr.read()
        self.address = f"http://127.0.0.1:{self.port}/"

    def end(self, how=signal.SIGINT):
        self.process.send_signal(how)
        self.process.wait(20)
        said = self.process.stderr.read()
        self.process.stderr.close()
        assert "Traceback" not in said, said


@contextmanager
def browsing(chromium, **looks):
    """A page in a browser that notes every request and error."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
        context = browser.new_context(**{"viewport": {"width": 1280, "height": 720}, **looks})
        context.set_default_timeout(PATIENCE)
        expect.set_options(timeout=PATIENCE)
        page = context.new_page()
        page.seen = []
        page.errors = []
        page.on("request", lambda request: page.seen.append(request.url))
        page.on("pageerror", lambda error: page.errors.append(str(error)))
        yield page
        browser.close()


def ready(page, address):
    page.goto(address)
    expect(page.locator(".board")).to_be_visible()
    expect(page.get_by_label("Layer", exact=False).first).to_be_visible()


def tab(page, name):
    page.get_by_role("tab", name=name, exact=True).click()
