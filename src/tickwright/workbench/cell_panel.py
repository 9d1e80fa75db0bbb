"""Beside the grids: what is under the cursor, what could stand there instead, its names and note; and the plan."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from nicegui import ui

from tickwright.durations import time_text
from tickwright.publish import hold_text
from tickwright.rules import BUILT_IN
from tickwright.space import Cell, cell_text
from tickwright.workbench import laying
from tickwright.workbench.elements import (
    attempt,
    button,
    choice,
    field,
    figures,
    finding_line,
    heading,
    section,
    unbroken,
)
from tickwright.workbench.fields import Notes
from tickwright.workbench.module_panel import ModuleCard

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

SHOWN_FINDINGS = 2
MOST_ROWS = 12


class CellPanel:
    """The cell, the ghost's card, and what this press does."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.module = ModuleCard(page)
        self.cell = ui.element("div").classes("section")
        self.ghost = ui.element("div").classes("ghost hidden").props('role="status"')
        with section("This press"):
            self.press = ui.element("div").classes("stack")
        self.found = ui.element("div").classes("section")
        self.names = ui.element("div").classes("section").props('role="group" aria-label="Names and note"')
        self.show_cell()
        self.show_known()

    def show_cell(self) -> None:
        """Show what is under the cursor, and its names and note, to be changed."""
        cell, plan = self.page.cell, self.session.document.plan
        note = laying.pinned_notes(plan).get(cell, "")
        part = plan.cells.get(cell)
        self.module.show()
        self.cell.clear()
        with self.cell:
            heading("Under the cursor")
            with ui.element("div"):
                ui.label(str(part) if part is not None else "empty").classes("under").mark("cell-words")
                ui.label(f"at {cell_text(cell)}").classes("hint")
        self.names.clear()
        with self.names:
            with ui.element("div").classes("pair"):
                for table, label in (("triggers", "Trigger"), ("outputs", "Output")):
                    name = next((name for name, at in getattr(plan, table).items() if at == cell), "")
                    made = field(f"{label} name", name).mark(f"name-{table}")
                    made.on("change", partial(self._name, table, made))
            made_note = field("Note at this cell", note).mark("cell-note")
            made_note.on("change", lambda _: attempt(lambda: self._note(cell, made_note.value)))

    def show_ghost(self) -> None:
        """Show what the part that is being tried would do."""
        trying = self.page.trying
        one = trying.chosen
        self.ghost.classes(add="hidden" if one is None else "", remove="" if one is None else "hidden")
        self.ghost.clear()
        if one is None:
            return
        with self.ghost:
            ui.label(f"{one.part} here").classes("answer-name")
            for line in one.detail.split("; "):
                ui.label(line)
            with ui.element("div").classes("row-line"):
                button("Put it here", trying.put, "Enter", kind="main")
                button("Leave it", trying.leave, "Escape")

    def show_known(self) -> None:
        """Show what is known of the press now, and what was found."""
        known = self.session.judging.known
        self.press.clear()
        with self.press:
            if known.trouble:
                ui.label(known.trouble).classes("hint")
            for answer in known.answers[:MOST_ROWS]:
                waiting = known.waiting
                rows = [
                    ("hold", unbroken(hold_text(answer))),
                    ("delay", unbroken(time_text(answer.delay_steps))),
                    ("minimum trigger", unbroken(time_text(answer.minimum_trigger_steps)) if known.whole else waiting),
                    ("margin", unbroken(time_text(answer.margin_steps)) if known.whole else waiting),
                ]
                ui.label(f"{answer.trigger} → {answer.output}: {answer.kind_text}").classes("answer-name")
                figures(rows)
            if len(known.answers) > MOST_ROWS:
                button(f"All {len(known.answers)}", lambda: self.page.show_side("judge"), kind="small")
        self.found.clear()
        with self.found:
            for finding in known.findings[:SHOWN_FINDINGS]:
                finding_line(finding.as_data(), self.page.goto)
            if known.findings:
                button("Findings and repairs", lambda: self.page.show_side("judge"), kind="small")

    def _name(self, table: str, made: ui.input) -> None:
        cell, name = self.page.cell, (made.value or "").strip()
        label = f"name {table[:-1]}"
        attempt(lambda: self.session.change(label, lambda plan: laying.name_cell(plan, table, name, cell)))

    def _note(self, cell: Cell, text: str) -> None:
        self.session.change("note", lambda plan: laying.with_note_at(plan, cell, text or ""))


class PlanPanel:
    """Title, rules and notes of the plan, and what is done to a selection."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.plan = ui.element("div").classes("section")
        with section("Selection", "Drag with the Select tool, or hold Shift with the arrow keys."):
            with ui.element("div").classes("row-line"):
                for text, op, hint in EDITS:
                    button(text, partial(page.edit, op), hint, "small")
            button("Repeat a selection ...", page.ask_repeat, "Lay copies of the selected box side by side (D)")
        self.show()

    def show(self) -> None:
        """Show title, rules and notes, to be changed."""
        plan = self.session.document.plan
        self.plan.clear()
        with self.plan:
            title = field("Title", plan.title)
            title.on("change", lambda _: attempt(lambda: self._retitle(title.value)))
            known = list(dict.fromkeys([*BUILT_IN, plan.rules]))
            choice("Rules", known, plan.rules, self._rerule)
            notes = Notes("Notes, kept as comments at the head of the file", value=laying.notes_of(plan))
            notes.props("outlined dense stack-label autogrow").classes("field notes")
            notes.on("change", lambda _: attempt(lambda: self._renote(notes.value)))

    def _retitle(self, title: str) -> None:
        self.session.change("title", lambda plan: laying.with_title(plan, title or ""))

    def _rerule(self, rules: str) -> None:
        self.session.change("rules", lambda plan: laying.with_rules(plan, rules))

    def _renote(self, text: str) -> None:
        self.session.change("notes", lambda plan: laying.with_notes(plan, text or ""))


EDITS = (
    ("Turn", "turn", "R"),
    ("Mirror E-W", "mirror-x", "Swap east and west (X)"),
    ("Mirror N-S", "mirror-y", "Swap north and south (Y)"),
    ("Copy", "copy", "Ctrl+C"),
    ("Cut", "cut", "Ctrl+X"),
    ("Paste", "paste", "Ctrl+V"),
)
