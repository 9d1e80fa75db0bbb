"""The rooms of the page: each is built when it is first shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from tickwright.workbench.fields import Tabs

ROOMS = {"bench": "Bench", "designs": "Designs", "sheet": "Sheet", "shelf": "Shelf"}


class Rooms:
    """Panels of which one is shown, with the tabs that choose it; `build` makes what is in one, in its element.

    `shown` is told after one is shown. Only what has been shown is built.
    """

    def __init__(
        self, titles: dict[str, str], label: str, build: dict[str, Callable[[], Any]], shown: Callable[[str], Any]
    ) -> None:
        self.titles = titles
        self.label = label
        self.build = build
        self.shown = shown
        self.now = ""
        self.built: dict[str, Any] = {}
        self.panels: dict[str, ui.element] = {}
        self.tabs: ui.tabs | None = None

    def make_tabs(self) -> None:
        """Make the tabs here."""
        with Tabs(on_change=lambda event: self.show(event.value)).props(
            "dense no-caps :ripple=false inline-label"
        ) as self.tabs:
            for name, title in self.titles.items():
                ui.tab(name, title).mark(f"tab-{name}")
        self.tabs.props["aria-label"] = self.label

    def make_panels(self, classes: str = "") -> None:
        """Make the places for them here."""
        for name, title in self.titles.items():
            made = ui.element("div").classes(f"room-{name} hidden {classes}")
            self.panels[name] = made.props(f'role="tabpanel" aria-label="{title}"')

    def get(self, name: str) -> Any:
        """What is in a room, built if it is not yet."""
        if name not in self.built:
            with self.panels[name]:
                self.built[name] = self.build[name]()
        return self.built[name]

    def show(self, name: str) -> None:
        """Show one of them."""
        if name not in self.titles:
            return
        self.get(name)
        changed, self.now = name != self.now, name
        for other, panel in self.panels.items():
            panel.classes(add="hidden" if other != name else "", remove="hidden" if other == name else "")
        if self.tabs is not None and self.tabs.value != name:
            self.tabs.set_value(name)
        if changed:
            self.shown(name)
