"""A button that starts a long job, its progress, its end by order, and what came of it."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from nicegui import ui

from tickwright.errors import TickwrightError
from tickwright.workbench.elements import button
from tickwright.workbench.jobs import Cancelled

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

LONG = "long"  # the worker of all long jobs: one at a time


class JobView:
    """`ask` gives the job and its arguments, `show` shows its result in the place that is made for it.

    If what the user gave for it cannot be meant, `ask` raises TickwrightError, or says so itself and gives None.
    A job that `keeps` what it has is first asked to end with it; to stop it once more is to end it at once.
    """

    def __init__(
        self,
        page: Page,
        title: str,
        ask: Callable[[], tuple[Any, ...] | None],
        show: Callable[[Any], None],
        keeps: bool = False,
        kind: str = "plain",
    ) -> None:
        self.page = page
        self.ask = ask
        self.show = show
        self.keeps = keeps
        self.ending = False
        self.said = ""
        self.began = 0.0
        with ui.element("div").classes("row-line"):
            self.start = button(title, self.run, kind=kind)
            self.stop = button("Stop", self.end, kind="danger")
            self.progress = ui.label("").classes("hint").props("role=status")
        self.result = ui.element("div").classes("stack")
        self.timer = ui.timer(0.5, self._tick, active=False)
        self._busy(False)

    async def run(self) -> None:
        """Do the job and show what comes of it. Raises TickwrightError for bad input."""
        worker = self.page.session.worker(LONG)
        asked = self.ask()
        if asked is None:
            return
        self.result.clear()
        if worker.job is not None:
            raise TickwrightError(f"Another long job, the {worker.job}, is at work: stop it or wait for it.")
        self._busy(True)
        try:
            found = await worker.do(*asked, tell=self._told, keeps=self.keeps)
        except Cancelled:
            self._over("Stopped.")
        except TickwrightError as error:
            self._over(str(error))
        except RuntimeError as error:
            self._over(f"It failed, which is a defect of Tickwright: {error}")
            raise
        else:
            self._over("")
            with self.result:
                self.show(found)

    def end(self) -> None:
        """End the job: with what it has, if it can, or at once."""
        worker = self.page.session.worker(LONG)
        if self.keeps and not self.ending:
            worker.end()
            self.ending = True
            self.stop.set_text("Stop at once")
            self._tick()
        else:
            worker.cancel()

    def _told(self, said: Any) -> None:
        self.said = str(said)

    def _tick(self) -> None:
        doing = "ending with what there is" if self.ending else self.said or "working"
        self.progress.set_text(f"{doing} · {time.monotonic() - self.began:.0f} s")

    def _over(self, said: str) -> None:
        self._busy(False)
        self.progress.set_text(said)

    def _busy(self, busy: bool) -> None:
        self.said = ""
        self.ending = False
        self.began = time.monotonic()
        self.stop.set_text("Stop")
        self.start.set_visibility(not busy)
        self.stop.set_visibility(busy)
        self.timer.active = busy
        self.progress.set_text("working" if busy else "")
