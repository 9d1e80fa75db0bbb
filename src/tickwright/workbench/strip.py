"""The strip below everything: what the plan does now, after each edit."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from nicegui import ui

from tickwright import Measurement
from tickwright.durations import time_text
from tickwright.publish import hold_text
from tickwright.workbench.elements import button
from tickwright.workbench.judging import Known

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

SHOWN_ANSWERS = 2


class Strip:
    """Hold, delay, minimum trigger, margin, parts and box; how many findings; how long it took."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.box = ui.element("div").classes("strip").mark("strip")

    def show(self) -> None:
        """Show what is known now."""
        known = self.page.session.judging.known
        self.box.clear()
        with self.box:
            if known.trouble:
                ui.label(known.trouble)
            for answer in known.answers[:SHOWN_ANSWERS]:
                self._answer(answer, known)
            if len(known.answers) > SHOWN_ANSWERS:
                more = len(known.answers) - SHOWN_ANSWERS
                button(f"{more} more", lambda: self.page.show_tab("judge"), kind="small")
            parts = len(known.plan.cells)
            _item("parts", f"{parts:,}")
            if known.box is not None:
                _item("box", " × ".join(map(str, known.box)))
            ui.element("div").classes("spring")
            self._findings()
            if known.answers:
                state = "stopped" if known.stopped else "measuring ..."
                ui.label(f"measured in {known.milliseconds:.0f} ms" if known.whole else state).classes("state")

    def _answer(self, answer: Measurement, known: Known) -> None:
        kind = answer.kind_text
        _item(f"{answer.trigger} → {answer.output}", kind)
        _item("hold", hold_text(answer))
        _item("delay", time_text(answer.delay_steps))
        _item("minimum trigger", time_text(answer.minimum_trigger_steps) if known.whole else known.waiting)
        _item("margin", time_text(answer.margin_steps) if known.whole else known.waiting)

    def _findings(self) -> None:
        known = self.page.session.judging.known
        counts = Counter(finding.severity for finding in known.findings)
        failed = sum(not verdict.passed for verdict in known.verdicts)
        words = [_count(counts[one], one) for one in ("error", "warning") if counts[one]]
        words += [_count(failed, "expectation") + " failed"] if failed else []
        if words:
            button(", ".join(words), lambda: self.page.show_tab("judge"), kind="small").classes("strip-findings")
        elif known.searched == "tried" and not known.stopped:
            ui.label("no findings").classes("state")


def _item(name: str, text: str) -> None:
    with ui.element("div").classes("item"):
        ui.label(name).classes("name")
        with ui.element("b"):
            ui.label(text)


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
