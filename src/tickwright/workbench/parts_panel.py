"""The parts: what a click does, the kinds with their keys, and the part that is chosen with its settings."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui

from tickwright.kinds import PARTS, parse_part, part_text
from tickwright.workbench.actions import choose_kind
from tickwright.workbench.cells import part_data, rules_of, sample_part
from tickwright.workbench.elements import Glyph, Segments, attempt, button, choice
from tickwright.workbench.fields import Number
from tickwright.workbench.keys import PART_KEYS
from tickwright.workbench.module_panel import choose_module
from tickwright.workbench.modules import Held

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

BOX = (
    '<svg viewBox="0 0 24 24" width="24" height="24" fill="none" stroke="currentColor" stroke-width="1.3">'
    '<rect x="5" y="4" width="14" height="16" rx="2"/><path d="M1 9h4M1 15h4M19 12h4"/></svg>'
)
TOOLS = {"part": "Lay", "select": "Select", "erase": "Erase", "press": "Press"}


class PartsPanel:
    """The card at the left of the bench."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.sort = "part"
        self.tools = Segments("What a click on a grid does", TOOLS, "part", self._sort)
        self._kinds: dict[str, ui.button] = {}
        with ui.element("div").classes("kinds").props('role="group" aria-label="Parts"'):
            for key, kinds in PART_KEYS.items():
                with ui.element("div").classes("kind-group"):
                    for kind in kinds:
                        self._kind_button(kind, key, alone=len(kinds) == 1)
                    ui.label(key).classes("key").props('aria-hidden="true"')
            with ui.element("div").classes("kind-group"):
                made = ui.button(on_click=lambda _: attempt(lambda: choose_module(page)), color=None)
                made.props("flat no-caps unelevated align=left :ripple=false").classes("kind").mark("choose-module")
                made.props["title"] = "Choose a plan of this folder, or a tile of the shelf, to lay as one (A)"
                made.props["aria-label"] = "module"
                with made:
                    ui.html(BOX, sanitize=False).classes("glyph")
                    ui.label("module ...").classes("kind-name")
                ui.label("a").classes("key").props('aria-hidden="true"')
            self._module = made
        self.chosen = ui.element("div").classes("chosen")
        self.show_tool()

    def _kind_button(self, kind: str, key: str, alone: bool) -> None:
        made = ui.button(on_click=lambda _: self._choose(kind), color=None)
        made.props("flat no-caps unelevated align=left :ripple=false").classes("kind").mark(f"part-{kind}")
        made.props["title"] = f"{kind} ({key.upper()}): {PARTS[kind].help}"
        made.props["aria-label"] = kind
        with made:
            Glyph(sample_part(kind))
            if alone:
                ui.label(kind).classes("kind-name")
        self._kinds[kind] = made

    def lay(self) -> None:
        """Let a click lay what is chosen."""
        if self.sort != "part":
            self.sort = "part"
            self.tools.show("part")
        self.show_tool()

    def _choose(self, kind: str) -> None:
        if self.sort != "part":
            self.sort = "part"
            self.tools.show("part")
        choose_kind(self.session, kind)

    def _sort(self, sort: str) -> None:
        self.sort = sort
        self.show_tool()

    def show_tool(self) -> None:
        """Show the part that is chosen, with its direction and arguments, and tell the grids."""
        part = self.session.tool
        kind = PARTS[part.kind]
        held = self.session.module
        for name, made in self._kinds.items():
            made.props["aria-pressed"] = "true" if held is None and name == part.kind else "false"
        self._module.props["aria-pressed"] = "true" if held is not None else "false"
        self.chosen.clear()
        if held is not None:
            with self.chosen:
                self._show_module(held)
            self.tell_tool()
            return
        with self.chosen:
            ui.label(part_text(part)).classes("code").mark("chosen-part")
            if kind.directions:
                choice("Direction", list(kind.directions), part.facing, partial(self._set_one, "facing"))
            for argument in kind.arguments:
                name, now = argument.name, getattr(part, argument.name)
                if len(argument.choices) <= 4:
                    shown = {value: _shown(value) for value in argument.choices}
                    choice(name.capitalize(), shown, now, partial(self._set_one, name))
                else:
                    number = Number(name.capitalize(), value=now, min=0, max=int(argument.choices[-1]), precision=0)
                    number.props("outlined dense stack-label").classes("field")
                    number.on("change", partial(self._set_number, name, number))
        self.tell_tool()

    def tell_tool(self) -> None:
        """Tell the grids what a click does."""
        rules = rules_of(self.session.document)[0]
        held = self.session.module
        for board, plane in self.page.planes():
            tool = {"text": held.plan, "size": held.size} if held else part_data(self.session.tool, rules, plane)
            board.run_method("choose", {"sort": "module" if held and self.sort == "part" else self.sort, **tool})

    def _show_module(self, held: Held) -> None:
        turned = f", turned by {held.turn}°" if held.turn else ""
        ui.label(f"{held.plan}{', mirrored' if held.mirror else ''}{turned}").classes("code").mark("chosen-part")
        ui.label(" × ".join(map(str, held.size))).classes("hint")
        with ui.element("div").classes("row-line"):
            button("Turn", self._turn_module, "R over an empty cell", "small")
            button("Mirror", self._mirror_module, "X over an empty cell", "small")

    def _turn_module(self) -> None:
        held = self.session.module
        self.session.module = held and held._replace(turn=(held.turn + 90) % 360)
        self.session.tell("tool")

    def _mirror_module(self) -> None:
        held = self.session.module
        self.session.module = held and held._replace(mirror=not held.mirror, turn=-held.turn % 360)
        self.session.tell("tool")

    def _set_one(self, name: str, value: Any) -> None:
        values: dict[str, Any] = {name: value}
        self.session.tool = parse_part(part_text(self.session.tool._replace(**values)))
        self.session.tell("tool")

    def _set_number(self, name: str, number: ui.number) -> None:
        attempt(lambda: self._set_one(name, int(number.value or 0)))


def _shown(value: object) -> str:
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)
