"""Choose: the wish as a form; the designs that meet it as a scatter plot and a table, a picture of each."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui

from tickwright import Plan
from tickwright.design import Chosen, Design, design_facts, lying
from tickwright.durations import time_text
from tickwright.workbench.elements import Scatter, button, choice, table_of
from tickwright.workbench.job_view import JobView
from tickwright.workbench.telling import Point, hear
from tickwright.workbench.wish_form import WishForm

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

HEADS = ("", "design", "hold", "error", "delay", "minimum trigger", "recovery", "parts", "price", "box", "")
MEASURES = {
    "parts": "parts", "price": "price", "volume": "cells of the box", "footprint": "cells seen from above",
    "height": "layers", "delay": "delay in steps", "recovery": "recovery in steps", "error": "error in steps",
    "minimum": "minimum trigger",
}  # fmt: skip


class ChoosePanel:
    """The form and what came of it last."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.chosen: Chosen | None = None
        self.pictures: list[str] = []
        with ui.element("div").classes("publish"):
            with ui.element("div").classes("stack publish-form"):
                self.form = WishForm(page.session)
                self.job = JobView(page, "Choose designs", self._ask, self._take, keeps=True)
            with ui.element("div").classes("stack"):
                self.said = ui.element("div").classes("stack").props("aria-live=polite")
                with ui.element("div").classes("row-line"):
                    self.across = choice("Across", MEASURES, "parts", lambda _: self._plot()).classes("narrow")
                    self.up = choice("Up", MEASURES, "volume", lambda _: self._plot()).classes("narrow")
                self.plot = Scatter()
                hear(self.plot, "pick", Point, lambda told: self._scroll_to(told.number))
                self.rows = ui.element("div").classes("scroll")
        with self.said:
            ui.label("Say what hold you wish for; each design that is shown was run.").classes("hint")

    def _ask(self) -> tuple[Any, ...] | None:
        wish = self.form.wish()
        return None if wish is None else ("choose", wish)

    def _take(self, found: tuple[Chosen, tuple[bytes, ...]]) -> None:
        self.chosen, pictures = found
        self.pictures = [f"/bench/kept/{self.session.keep(data, 'image/svg+xml')}" for data in pictures]
        self.said.clear()
        with self.said:
            count = "1 design" if len(self.chosen.designs) == 1 else f"{len(self.chosen.designs)} designs"
            said = f"{count}; of {self.chosen.proposed:,} plans proposed {self.chosen.run:,} were run."
            ui.label(said).classes("answer-name")
            if self.chosen.stopped:
                ui.label("Stopped before the end: others may be better.").classes("hint")
            if self.chosen.reason:
                ui.label(self.chosen.reason).classes("bad")
            for advice in self.chosen.relax:
                ui.label(f"It can be had if you relax {advice.text}.")
        self._plot()
        self.rows.clear()
        with self.rows, table_of(HEADS) as row:
            for number, design in enumerate(self.chosen.designs):
                self._row(row, number, design)

    def _row(self, row: Any, number: int, design: Design) -> None:
        texts = (
            str(number + 1),
            "; ".join([design.family, *design_facts(design)]),
            _unbroken(time_text(design.hold_steps)),
            f"{design.error_steps:+} steps" if design.error_steps else "exact",
            _unbroken(time_text(design.delay_steps)),
            _unbroken(time_text(design.minimum_trigger_steps)),
            ("" if design.recovery_exact or design.recovery_steps is None else "at most ")
            + _unbroken(time_text(design.recovery_steps)),
            str(design.parts),
            f"{design.price:g}",
            "\N{NO-BREAK SPACE}×\N{NO-BREAK SPACE}".join(map(str, design.box)),
        )
        with row(*texts) as last, ui.element("div").classes("design"):
            last.props(f'id="design-{number}"')
            ui.element("img").props(
                f'src="{self.pictures[number]}" alt="Picture of design {number + 1}" loading="lazy"'
            )
            with ui.element("div").classes("row-line"):
                opened = button("Open", partial(self._open, design), kind="small")
                opened.mark(f"design-open-{number}").props["aria-label"] = f"Open design {number + 1}"
                compared = button("Compare", partial(self._compare, number, design), kind="small")
                compared.mark(f"design-compare-{number}").props["aria-label"] = f"Compare design {number + 1}"

    def _open(self, design: Design) -> None:
        self.page.files.open_plan(file_stem(design), self._plan(design))

    def _compare(self, number: int, design: Design) -> None:
        self.page.compare.add_plan(f"{number + 1} {file_stem(design)}", self._plan(design))

    def _plan(self, design: Design) -> Plan:
        assert self.chosen is not None
        return lying(design, self.chosen.wish.room)

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
            f"document.getElementById('design-{number}')?.closest('tr').scrollIntoView({{block: 'center'}})"
        )


def design_name(design: Design) -> str:
    """A design's family and settings in one line."""
    settings = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in design.settings.items())
    return f"{design.family} ({settings})" if settings else design.family


def file_stem(design: Design) -> str:
    """A name for a design's file: its family and its hold in steps."""
    return f"{design.family.replace(' ', '-')}-{design.hold_steps}-steps"


def _unbroken(time: str) -> str:
    """A time that a narrow column breaks between seconds and ticks only."""
    return time.replace(" ", "\N{NO-BREAK SPACE}").replace("\N{NO-BREAK SPACE}(", " (")


def _measure(design: Design, name: str) -> float | None:
    values: dict[str, float | None] = {
        "parts": design.parts,
        "volume": design.volume,
        "footprint": design.footprint,
        "height": design.box[2],
        "delay": design.delay_steps,
        "recovery": design.recovery_steps,
        "price": design.price,
        "error": abs(design.error_steps),
        "minimum": design.minimum_trigger_steps,
    }
    return values[name]
