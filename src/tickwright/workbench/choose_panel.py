"""Choose: the wish as a form; the designs that meet it as a scatter plot and a table, a picture of each."""

from __future__ import annotations

import re
from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui

from tickwright import parse_duration
from tickwright.design import ANSWERS, OUTPUTS_WANTED, TRIGGERS, Chosen, Design, Room, Wish
from tickwright.durations import time_text
from tickwright.errors import UsageError
from tickwright.workbench.elements import Scatter, button, choice, field, heading, table_of
from tickwright.workbench.job_view import JobView

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

HEADS = ("", "design", "hold", "error", "delay", "minimum trigger", "recovery", "parts", "box", "")
MEASURES = {
    "parts": "parts", "volume": "cells of the box", "footprint": "cells seen from above", "height": "layers",
    "delay": "delay in steps", "recovery": "recovery in steps", "error": "error in steps", "minimum": "minimum trigger",
}  # fmt: skip
_ROOM = re.compile(r"\s*(\d{1,4})\s*[x×, ]\s*(\d{1,4})\s*[x×, ]\s*(\d{1,4})\s*")


class ChoosePanel:
    """The form and what came of it last."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.chosen: Chosen | None = None
        self.pictures: list[str] = []
        with ui.element("div").classes("publish"):
            with ui.element("div").classes("stack publish-form"):
                heading("Wish")
                self.hold = field("Hold, such as 12 s").mark("wish-hold")
                self.within = field("Give or take", "0 steps")
                self.trigger = choice("Trigger", list(TRIGGERS), "short-button")
                self.length = field("Trigger length, if another (such as 4 ticks)")
                self.delay = field("Delay at most")
                self.output = choice("Output", list(OUTPUTS_WANTED), "any")
                self.answer = choice("A second press during the hold", list(ANSWERS), "any")
                self.room = field("Room, such as 9 x 5 x 4")
                self.mash = ui.checkbox("However it is pressed it goes off for good (proved)")
                self.job = JobView(page, "Choose designs", self._ask, self._take)
            with ui.element("div").classes("stack"):
                self.said = ui.element("div").classes("stack").props("aria-live=polite")
                with ui.element("div").classes("row-line"):
                    self.across = choice("Across", MEASURES, "parts", lambda _: self._plot()).classes("narrow")
                    self.up = choice("Up", MEASURES, "volume", lambda _: self._plot()).classes("narrow")
                self.plot = Scatter()
                self.plot.on("pick", lambda event: self._scroll_to(event.args["number"]))
                self.rows = ui.element("div").classes("scroll")
        with self.said:
            ui.label("Say what hold you wish for; each design that is shown was run.").classes("hint")

    def show(self) -> None:
        """Nothing changes while another tab is shown."""

    def _ask(self) -> tuple[Any, ...]:
        text = (self.hold.value or "").strip()
        if not text:
            raise UsageError('Say the hold that is wanted, with its unit, such as "12 s" or "40 ticks".')
        length, delay = (self.length.value or "").strip(), (self.delay.value or "").strip()
        room = (self.room.value or "").strip()
        size = _ROOM.fullmatch(room)
        if room and size is None:
            raise UsageError(f'"{room[:40]}" is no room: write its cells along x, y and z, such as 9 x 5 x 4.')
        wish = Wish(
            hold_steps=parse_duration(text),
            within_steps=parse_duration(self.within.value or "0 steps"),
            trigger="lever" if length else self.trigger.value,
            trigger_steps=parse_duration(length) if length else None,
            delay_at_most_steps=parse_duration(delay) if delay else None,
            output=self.output.value,
            answer=self.answer.value,
            room=Room((int(size[1]), int(size[2]), int(size[3]))) if size else None,
            mash_proof=bool(self.mash.value),
        )
        return ("choose", wish)

    def _take(self, found: tuple[Chosen, tuple[bytes, ...]]) -> None:
        self.chosen, pictures = found
        self.pictures = [f"/bench/kept/{self.session.keep(data, 'image/svg+xml')}" for data in pictures]
        self.said.clear()
        with self.said:
            count = "1 design" if len(self.chosen.designs) == 1 else f"{len(self.chosen.designs)} designs"
            said = f"{count}; of {self.chosen.proposed:,} plans proposed {self.chosen.run:,} were run."
            ui.label(said).classes("answer-name")
            if self.chosen.reason:
                ui.label(self.chosen.reason).classes("bad")
            for failure in self.chosen.relax:
                ui.label(f"It can be had if you relax {failure.wish}: {failure.instead}.")
        self._plot()
        self.rows.clear()
        with self.rows, table_of(HEADS) as row:
            for number, design in enumerate(self.chosen.designs):
                self._row(row, number, design)

    def _row(self, row: Any, number: int, design: Design) -> None:
        texts = (
            str(number + 1),
            design_name(design),
            time_text(design.hold_steps),
            f"{design.error_steps:+} steps" if design.error_steps else "exact",
            time_text(design.delay_steps),
            time_text(design.minimum_trigger_steps),
            time_text(design.recovery_steps),
            str(design.parts),
            " × ".join(map(str, design.box)),
        )
        with row(*texts) as last, ui.element("div").classes("design"):
            last.props(f'id="design-{number}"')
            ui.element("img").props(
                f'src="{self.pictures[number]}" alt="Picture of design {number + 1}" loading="lazy"'
            )
            with ui.element("div").classes("stack"):
                opened = button("Open", partial(self._open, design), kind="small")
                opened.mark(f"design-open-{number}").props["aria-label"] = f"Open design {number + 1}"
                compared = button("Compare", partial(self._compare, number, design), kind="small")
                compared.mark(f"design-compare-{number}").props["aria-label"] = f"Compare design {number + 1}"

    def _open(self, design: Design) -> None:
        self.page.files.open_plan(file_stem(design), design.plan)

    def _compare(self, number: int, design: Design) -> None:
        self.page.compare.add_plan(f"{number + 1} {file_stem(design)}", design.plan)

    def _plot(self) -> None:
        if self.chosen is None:
            return
        points = [
            {
                "x": _measure(design, self.across.value),
                "y": _measure(design, self.up.value),
                "name": f"{number + 1}: {design_name(design)}",
            }
            for number, design in enumerate(self.chosen.designs)
        ]
        self.plot.show(points, MEASURES[self.across.value], MEASURES[self.up.value])

    def _scroll_to(self, number: int) -> None:
        ui.run_javascript(
            f"document.getElementById('design-{int(number)}')?.closest('tr').scrollIntoView({{block: 'center'}})"
        )


def design_name(design: Design) -> str:
    """A design's family and settings in one line."""
    settings = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in design.settings.items())
    return f"{design.family} ({settings})" if settings else design.family


def file_stem(design: Design) -> str:
    """A name for a design's file: its family and its hold in steps."""
    return f"{design.family.replace(' ', '-')}-{design.hold_steps}-steps"


def _measure(design: Design, name: str) -> int | None:
    values: dict[str, int | None] = {
        "parts": design.parts,
        "volume": design.volume,
        "footprint": design.footprint,
        "height": design.box[2],
        "delay": design.delay_steps,
        "recovery": design.recovery_steps,
        "error": abs(design.error_steps),
        "minimum": design.minimum_trigger_steps,
    }
    return values[name]
