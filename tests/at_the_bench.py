"""A workbench in a process of its own, and its page in real Chromium. What is waited for is a state, never a time."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import threading
from contextlib import contextmanager

from playwright.sync_api import expect, sync_playwright

from browser import FLAGS

BOARD = ".above-board"
PATIENCE = 120_000  # ms; CI has few cores
SAID = re.compile(r"http://127\.0\.0\.1:(\d+)/")
TRIED_PORTS = 5

# Notes what the page says in passing, which is gone again before a busy machine looks.
LISTEN = """
window.told = [];
new MutationObserver((changes) => {
    for (const { addedNodes } of changes) for (const node of addedNodes) {
        for (const one of node.querySelectorAll?.(".q-notification__message") ?? []) {
            window.told.push(one.textContent);
            const box = one.closest(".q-notification");
            const inks = [box, ...box.querySelectorAll(".q-btn")].map((each) => getComputedStyle(each).color);
            window.toldIn = [getComputedStyle(box).backgroundColor, ...inks];
        }
    }
}).observe(document, { childList: true, subtree: true });
"""

# Resolves when all that has a place on the page has kept it, and its drawing, for some frames, and nothing is animated.
STEADY = """() => new Promise((resolve) => {
    const places = () => [...document.querySelectorAll("header, aside, .board, .timeline, canvas, .card, .q-card")]
        .map((one) => [...Object.values(one.getBoundingClientRect().toJSON()), JSON.stringify(one.dataset)].join())
        .join(" ");
    let [before, kept] = ["", 0];
    const look = () => {
        const now = places();
        const moving = document.getAnimations().some((one) => one.playState === "running");
        kept = now === before && !moving ? kept + 1 : 0;
        before = now;
        if (kept > 5) resolve();
        else requestAnimationFrame(look);
    };
    look();
})"""


class Bench:
    """A workbench in a process of its own, and the address of its page."""

    def __init__(self, folder, state):
        environment = {**os.environ, "TICKWRIGHT_STATE": str(state)}
        environment.pop("PYTEST_CURRENT_TEST", None)  # NiceGUI would take the server for a test of its own
        for _ in range(TRIED_PORTS):  # another program may take a port between here and there
            command = [sys.executable, "-m", "tickwright", "workbench", str(folder), "--no-browser"]
            command += ["--port", str(free_port())]
            self.process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, env=environment)
            self.said = []
            found = next((SAID.search(line) for line in self._lines() if SAID.search(line)), None)
            if found:
                break
            self.process.wait()
            self.process.stderr.close()
            assert "taken" in "".join(self.said) or "address already in use" in "".join(self.said), self.said
        self.address = found[0]
        self.listener = threading.Thread(target=lambda: list(self._lines()))
        self.listener.start()

    def _lines(self):
        for line in self.process.stderr:
            self.said.append(line)
            yield line

    def end(self, how=signal.SIGINT):
        self.process.send_signal(how)
        try:
            self.process.wait(PATIENCE / 1000)
        finally:
            self.process.kill()
            self.listener.join()
            self.process.stderr.close()
        assert "Traceback" not in "".join(self.said), "".join(self.said)


def free_port():
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return trial.getsockname()[1]


@contextmanager
def browsing(chromium, **looks):
    """A page in a browser that notes every request and error."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=FLAGS, timeout=PATIENCE)
        try:
            context = browser.new_context(**{"viewport": {"width": 1280, "height": 720}, **looks})
            context.set_default_timeout(PATIENCE)
            expect.set_options(timeout=PATIENCE)
            context.add_init_script(LISTEN)
            page = context.new_page()
            page.seen = []
            page.errors = []
            page.on("request", lambda request: page.seen.append(request.url))
            page.on("pageerror", lambda error: page.errors.append(str(error)))
            yield page
        finally:
            browser.close()


def ready(page, address):
    """Open the page and wait until the grid is drawn and nothing moves any more."""
    page.goto(address)
    expect(page.locator(BOARD)).to_have_attribute("data-unit", re.compile(r"\d"))
    expect(page.locator(".strip")).to_contain_text("parts")
    steady(page)


def tab(page, name):
    """Show a room, or a side panel of the bench."""
    page.get_by_role("tab", name=name, exact=True).click()
    expect(page.get_by_role("tabpanel", name=name, exact=True)).to_be_visible()


def hear(page, text):
    """Wait until the page has said that in passing."""
    page.wait_for_function("text => window.told.some((one) => one.includes(text))", arg=text)


def steady(page):
    """Wait until the page has come to rest."""
    page.evaluate(STEADY)


def click_cell(page, x, y):
    """Click a cell of the layer that is shown, once the grid stands still."""
    steady(page)
    board = page.locator(BOARD)
    box = board.bounding_box()
    unit, left, top = (float(board.get_attribute(f"data-{name}")) for name in ("unit", "left", "top"))
    page.mouse.click(box["x"] + left + (x + 0.5) * unit, box["y"] + top + (y + 0.5) * unit)
