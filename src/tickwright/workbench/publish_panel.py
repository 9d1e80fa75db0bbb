"""Publish: files made of the plan, each looked at before it is kept."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

from nicegui import ui

from tickwright.errors import UsageError
from tickwright.exporting import FORMATS, Export, Look, Pace
from tickwright.workbench.elements import ask_flashing, button, choice, field, heading, say
from tickwright.workbench.fields import Check
from tickwright.workbench.job_view import JobView

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

SHOWN_CHARACTERS = 20_000
RUNS_HINT = "Runs follow the script of the bench; without one the first trigger is pressed once."


class PublishPanel:
    """Choose a sort of file, look at it, save it in the folder or take it elsewhere."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.made: bytes = b""
        with ui.element("div").classes("publish"):
            with ui.element("div").classes("card stack publish-form"):
                heading("Publish the plan")
                self.form = choice("What", {key: form.title for key, form in FORMATS.items()}, "pdf")
                self.form.mark("publish-form").on_value_change(self._renamed)
                self.layer = choice("Picture of", {"whole": "the whole plan"}, "whole")
                self.theme = choice("Colours", {"light": "dark on light", "dark": "light on dark"}, "light")
                ui.label(RUNS_HINT).classes("hint")
                self.flashing = Check("Film: do not slow down what flashes").mark("film-flashing")
                self.flashing.on_value_change(lambda event: self._flashing_asked(event.value))
                self._warned = False
                self.job = JobView(page, "Make it and look", self._ask, self._show)
                self.name = field("File name").mark("publish-name")
                with ui.element("div").classes("row-line"):
                    button("Save in the folder", self._save, kind="main")
                    self.link = ui.link("Take it elsewhere", "", new_tab=True).classes("hidden")
                heading("The whole sheet", 3)
                ui.label("PDF, interactive page, pictures, charts, bill, waveforms, model, outline.").classes("hint")
                self.sheet_name = field("Folder for it").mark("sheet-name")
                self.sheet = JobView(page, "Make the whole sheet", self._ask_sheet, self._save_sheet)
            with ui.element("div").classes("card preview").props('role="region" aria-label="Preview"') as self.preview:
                ui.label("Choose what to make, and press “Make it and look”: it is shown here.").classes("hint")

    def show(self) -> None:
        """Show the panel for the plan as it is."""
        high = self.session.document.plan.size[2]
        layers = {str(z): f"layer {z}" for z in range(high)}
        now = self.layer.value
        options = {"whole": "the whole plan", **layers}
        self.layer.set_options(options, value=now if now in options else "whole")
        self.sheet_name.set_value(f"{self.session.document.path.stem}-sheet")
        self._renamed()

    def _renamed(self) -> None:
        form = FORMATS[self.form.value]
        self.name.set_value(f"{self.session.document.path.stem}{form.suffix}")
        self.flashing.set_visibility(form.is_filmed)
        self.flashing.set_value(False)
        self.made = b""

    def _ask(self) -> tuple[Any, ...]:
        if not self.session.document.plan.cells:
            raise UsageError("The plan has no parts yet: lay some first.")
        layer = None if self.layer.value == "whole" else int(self.layer.value)
        asked = Export(
            self.session.document.plan,
            self.session.rules(),
            acts=tuple(self.session.script) or None,
            look=Look(layer, self.theme.value),
            pace=Pace(allow_flashing=self.flashing.value),
            name=self.session.document.path.stem,
        )
        return ("export", self.form.value, asked)

    def _show(self, made: tuple[bytes, str]) -> None:
        form = FORMATS[self.form.value]
        data, note = made
        self.made = data
        number = self.session.keep(data, form.media_type)
        url = f"/bench/kept/{number}"
        self.link.props(f'href="{url}" download="{escape(self.name.value or "made")}"').classes(remove="hidden")
        ui.label(f"{len(data):,} bytes").classes("hint")
        if note:
            ui.label(note).classes("bad").props("role=alert").mark("film-note")
        self.preview.clear()
        with self.preview:
            if form.shown_as == "picture":
                ui.element("img").props(f'src="{url}" alt="{escape(form.title)} of the plan"')
            elif form.shown_as == "film":
                ui.element("video").props(f'src="{url}" controls aria-label="{escape(form.title)}"')
            elif form.shown_as == "page":
                boxed = 'sandbox="allow-scripts"' if form.media_type.startswith("text/html") else ""
                ui.element("iframe").props(f'src="{url}" title="{escape(form.title)}" {boxed}')
            else:
                with ui.element("pre").classes("code"):
                    ui.label(data[:SHOWN_CHARACTERS].decode("utf-8", "replace"))

    def _flashing_asked(self, asked: bool) -> None:
        if not asked or self._warned:
            return
        self.flashing.set_value(False)
        more = "Films are slowed until they do not; this one would not be. Warn everybody before they watch it."
        ask_flashing(more, "Keep it slow", "Let it flash", self._allow_flashing)

    def _allow_flashing(self) -> None:
        self._warned = True
        self.flashing.set_value(True)
        self._warned = False

    def _ask_sheet(self) -> tuple[Any, ...]:
        self.session.folder.place((self.sheet_name.value or "").strip())
        return ("sheet", self.session.document.plan, self.session.rules(), self.theme.value)

    def _save_sheet(self, files: dict[str, bytes]) -> None:
        folder = (self.sheet_name.value or "").strip()
        for name, data in files.items():
            self.session.folder.write(f"{folder}/{name}", data, replace=True)
        ui.label(f"{len(files)} files in {folder}: {', '.join(files)}").classes("hint")

    def _save(self) -> None:
        if not self.made:
            raise UsageError("Nothing is made yet: make it and look at it first.")
        path = self.session.folder.write((self.name.value or "").strip(), self.made)
        say(f"Saved {self.session.folder.name_of(path)}, {len(self.made):,} bytes.")
