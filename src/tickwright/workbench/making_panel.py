"""Designs from claims and from netlists: a form, a job that can be stopped, and the plan that came of it as a card."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui

from tickwright.workbench.brief_form import BriefForm, size_in
from tickwright.workbench.choose_panel import open_plan, show_pictures, show_sentence
from tickwright.workbench.elements import button, field, say
from tickwright.workbench.fields import Notes, Number
from tickwright.workbench.job_view import JobView

if TYPE_CHECKING:
    from tickwright.workbench.making import Made
    from tickwright.workbench.page import Page

SUFFIXES = (".blif", ".v", ".sv")
NETLIST = ".model gate\n.inputs a b\n.outputs y\n.names a b y\n11 1\n.end"


class _MakingPanel:
    """A form and what comes of it."""

    name = ""

    def __init__(self, page: Page, title: str) -> None:
        self.page = page
        self.session = page.session
        with ui.element("section").classes("card wish").props(f'aria-label="{self.name}"'):
            self._form()
            with ui.element("div").classes("row-line"):
                self.seed = _number("Seed: another one gives another layout", 0, 0, 1_000_000, "making-seed")
                self.minutes = _number("Minutes at most", 3, 1, 60, "making-minutes")
            self.job = JobView(page, title, self._ask, self._take, keeps=True, kind="main")
        self.grid = ui.element("div").classes("cards")

    def _form(self) -> None:
        raise NotImplementedError

    def _ask(self) -> tuple[Any, ...] | None:
        raise NotImplementedError

    def _numbers(self) -> tuple[int, float]:
        return int(self.seed.value or 0), float(self.minutes.value or 3)

    def _take(self, made: Made) -> None:
        self.grid.clear()
        with self.grid, ui.element("article").classes("card design-card made").props('aria-label="What came of it"'):
            if made.card is not None:
                keep = partial(self.session.keep, media_type="image/svg+xml")
                urls = tuple(f"/bench/kept/{keep(data)}" for data in made.card.pictures)
                show_pictures(urls, f"Picture of {made.name}, {made.card.view}")
                ui.label(made.card.view).classes("hint centre")
                show_sentence(made.card)
                if made.card.lanes:
                    ui.html(made.card.lanes, sanitize=False)
            for line in made.lines:
                ui.label(line.text).classes(line.tone or "hint")
            if made.plan is not None:
                plan, stem = made.plan, _stem(made.name)
                with ui.element("div").classes("row-line"):
                    button("Open on the bench", lambda: open_plan(self.page, stem, plan), kind="main").mark("made-open")
                    button("Compare", lambda: self.page.designs().add_plan(stem, plan)).mark("made-compare")


class ComposePanel(_MakingPanel):
    """A plan composed from claims."""

    name = "Claims"

    def __init__(self, page: Page) -> None:
        super().__init__(page, "Compose it")

    def _form(self) -> None:
        ui.label("Write what should happen, and when; a plan that does it is composed, run and proved.").classes("hint")
        self.form = BriefForm()
        with ui.element("div").classes("row-line"):
            button("Take the chart of the open plan", self._fill).mark("brief-fill")

    def _fill(self) -> None:
        self.form.fill(self.session.document.plan)
        say("Its triggers, outputs and claims are taken: drag its edges under Chart, and compose it anew.")

    def _ask(self) -> tuple[Any, ...] | None:
        text = self.form.text()
        seed, minutes = self._numbers()
        return "compose", text, str(self.session.folder.root), seed, minutes


class PlacePanel(_MakingPanel):
    """A plan placed from a netlist."""

    name = "Netlist"

    def __init__(self, page: Page) -> None:
        super().__init__(page, "Place it")

    def _form(self) -> None:
        said = "A netlist laid as blocks: inputs become levers, outputs lamps. What is placed was played against it."
        ui.label(said).classes("hint")
        with ui.element("div").classes("brief-fields"):
            self.file = field("A netlist of the folder, .blif or .v").mark("netlist-file")
            self.clock = field("Clock of latches that name none").mark("netlist-clock")
            self.room = field("Room, such as 24 x 17 x 5").mark("netlist-room")
        self.text = Notes(label="Or BLIF, written here", value=NETLIST)
        self.text.props("outlined dense stack-label autogrow").classes("field code").mark("netlist-text")

    def _ask(self) -> tuple[Any, ...] | None:
        for one in (self.file, self.room, self.text):
            one.error = None
        name = (self.file.value or "").strip()
        file = None
        if name:
            file = self.session.folder.place(name)
            if file.suffix.lower() not in SUFFIXES or not file.is_file():
                self.file.error = f'"{name}" is no netlist of the folder: name a file that ends in .blif or .v.'
                return None
        elif not (self.text.value or "").strip():
            self.text.error = "Name a file of the folder, or write a netlist here."
            return None
        size = size_in(self.room)
        seed, minutes = self._numbers()
        clock = (self.clock.value or "").strip() or None
        return "place", str(file) if file else None, self.text.value or "", clock, size, seed, minutes


def _number(label: str, value: int, low: int, high: int, mark: str) -> Number:
    made = Number(label, value=value, min=low, max=high, precision=0).classes("field narrow").mark(mark)
    made.props("outlined dense stack-label")
    return made


def _stem(name: str) -> str:
    """A name for a file, of the letters and digits of a title."""
    words = "".join(letter if letter.isalnum() else " " for letter in name.partition(":")[0].lower()).split()
    return "-".join(words)[:60] or "made"
