"""The module at the cursor with what can be done with it, and the list of modules that can be laid."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from nicegui import ui

from tickwright.plan import Use, inner_cell
from tickwright.space import cell_text
from tickwright.workbench import modules
from tickwright.workbench.elements import attempt, button, field, heading, say
from tickwright.workbench.folder import Folder

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

MOST_OFFERED = 60


class ModuleCard:
    """What is known of the module at the cursor, or of the one that is open."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.box = ui.element("div").classes("section").props('role="group" aria-label="Module"').mark("module")

    def show(self) -> None:
        """Show the module of the cell, if there is one."""
        session, plan = self.session, self.session.document.plan
        self.box.clear()
        use = next((one for one in plan.uses if one.name == session.inside), None) or session.module_at(self.page.cell)
        if use is None:
            return
        with self.box:
            if session.inside:
                self._show_open(use)
            else:
                self._show_closed(use)

    def _show_closed(self, use: Use) -> None:
        heading("Module")
        name = field("Name of the module", use.name).mark("module-name")
        name.on("change", lambda _: attempt(lambda: self._rename(use.name, (name.value or "").strip())))
        inner = inner_cell(use, self.page.cell)
        where = f" This cell is {cell_text(inner)} in it." if min(inner) >= 0 else ""
        ui.label(f"{modules.words_of(self.session.document.plan, use)}.{where}").classes("hint")
        several = sum(one.plan == use.plan for one in self.session.document.plan.uses) > 1
        with ui.element("div").classes("row-line"):
            if modules.is_tile(use):
                button(
                    "Open a copy", partial(self._open, use.name), "Tiles stay as they are: a copy is edited (O)", "main"
                )
            else:
                button("Open", partial(self._open, use.name), "Change its parts here, where it lies (O)", "main")
            if several and not modules.is_tile(use):
                button(
                    "Open for this place only", partial(self._open, use.name, True), "Edit a copy of its plan", "small"
                )
            button("Turn", partial(self.page.edit, "turn"), "R", "small")
            button("Mirror", partial(self.page.edit, "mirror-x"), "Swap east and west (X)", "small")
            button("Take out", partial(self.page.edit, "erase"), "Delete", "small")
            button("Box or parts", self.page.show_boxes, "Show modules as boxes, or with their parts (F)", "small")

    def _show_open(self, use: Use) -> None:
        heading("Open module")
        places = sum(one.plan == use.plan for one in self.session.document.plan.uses)
        many = f" and shows in all its {places} places" if places > 1 else ""
        ui.label(use.name).classes("under")
        ui.label(f"What you lay or erase changes {use.plan}{many}. Save writes that file, too.").classes("hint")
        with ui.element("div").classes("row-line"):
            button("Back to the whole", partial(self.page.edit, "leave-module"), "Shift + U", "main")

    def _open(self, name: str, alone: bool = False) -> None:
        say(self.session.open_module(name, alone))
        self.page.board.run_method("grab")

    def _rename(self, name: str, new: str) -> None:
        if new != name:
            self.session.change("rename the module", lambda plan: modules.renamed(plan, name, new))


def choose_module(page: Page) -> None:
    """Show what can be laid as a module: plans beside this one, and the tiles of the shelf."""
    session = page.session
    path = session.document.path
    names = [one.name for one in sorted(Folder(path.parent).plans(), key=lambda one: -one.changed)]
    found = modules.offered(names[:MOST_OFFERED], path)
    with ui.dialog() as dialog, ui.card().classes("modules-card"):
        heading("Lay a module")
        ui.label("A plan that is laid in this one stays a file of its own, and may lie in many places.").classes("hint")

        def take(one: modules.Offered) -> None:
            dialog.close()
            attempt(lambda: page.hold_module(one.plan))

        for title, mine in (("Plans in this folder", True), ("Tiles of the shelf", False)):
            heading(title, 3)
            rows = [one for one in found if one.own is mine]
            with ui.element("div").classes("offers"):
                for one in rows:
                    name = one.plan.removeprefix(modules.TILE)
                    made = ui.button(on_click=partial(lambda one, _: take(one), one), color=None)
                    made.props("flat no-caps unelevated align=left :ripple=false").classes("act offer")
                    made.mark(f"offer-{one.plan}")
                    with made, ui.element("div"):
                        ui.label(name).classes("answer-name")
                        ui.label(one.title if one.title and one.title != name else one.ports).classes("hint")
                        if one.title and one.title != name and one.ports:
                            ui.label(one.ports).classes("hint")
            if not rows:
                ui.label("No other plan lies in this folder.").classes("hint")
        with ui.element("div").classes("row-line"):
            button("Cancel", dialog.close)
    dialog.on("hide", dialog.delete)
    dialog.open()
