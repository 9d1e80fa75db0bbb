"""The dialogs of the grids: all keys, copies side by side, a name or a note."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nicegui import ui

from tickwright.workbench import laying
from tickwright.workbench.elements import attempt, button, figures, heading, say
from tickwright.workbench.fields import Number, Radio, Text
from tickwright.workbench.keys import key_rows

if TYPE_CHECKING:
    from tickwright.workbench.page import Page


def show_keys() -> None:
    """Show all keys of the grids."""
    with ui.dialog() as dialog, ui.card().classes("keys-card"):
        heading("Keys of the grids")
        figures(key_rows())
        button("Close", dialog.close, kind="main")
    dialog.on("hide", dialog.delete)
    dialog.open()


def ask_repeat(page: Page) -> None:
    """Ask how often and how far apart to lay copies of the selected box."""
    box = page.box
    if box is None:
        say("Select a box first: drag with the Select tool, or hold Shift with the arrow keys.", bad=True)
        return
    with ui.dialog() as dialog, ui.card():
        heading("Repeat the selection")
        axis = Radio({"x": "eastward", "y": "southward", "z": "upward"}, value="x").props("inline")
        count = Number("How often in all", value=2, min=2, max=200, precision=0).props("outlined dense")
        pitch = Number("Cells from one to the next", value=box.high[0] - box.low[0] + 1, min=1, precision=0)
        pitch.props("outlined dense")

        def do() -> None:
            numbers = int(count.value or 0), int(pitch.value or 0)
            page.session.change("repeat", lambda plan: laying.again(plan, box, axis.value, *numbers))
            dialog.close()

        with ui.element("div").classes("row-line"):
            button("Repeat", do, kind="main")
            button("Cancel", dialog.close)
    dialog.on("hide", dialog.delete)
    dialog.open()


def ask_line(page: Page, what: str) -> None:
    """Ask for the name of the cell under the cursor as a "trigger" or an "output", or for a "note" on it."""
    cell, plan = page.cell, page.session.document.plan
    tables = {"trigger": "triggers", "output": "outputs"}
    if what in tables:
        now = next((name for name, at in getattr(plan, tables[what]).items() if at == cell), "")
    else:
        now = laying.pinned_notes(plan).get(cell, "")
    with ui.dialog() as dialog, ui.card():
        heading(f"{what.capitalize()} at this cell")
        line = Text("Name" if what in tables else "Note", value=now).props("outlined dense autofocus")

        def do() -> None:
            text = (line.value or "").strip()
            if what in tables:
                page.session.change(f"name {what}", lambda plan: laying.name_cell(plan, tables[what], text, cell))
            else:
                page.session.change("note", lambda plan: laying.with_note_at(plan, cell, text))
            dialog.close()
            page.board.run_method("grab")

        line.on("keydown.enter", lambda _: attempt(do))
        with ui.element("div").classes("row-line"):
            button("Set", do, kind="main")
            button("Cancel", dialog.close)
    dialog.on("hide", dialog.delete)
    dialog.open()
