"""The page's own elements, and how it makes buttons and fields: plain words, names for screen readers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from nicegui import ui

from tickwright import TickwrightError, load_rules
from tickwright.parts import Part
from tickwright.workbench.cells import part_data

BENCH = {"tickwright-bench": "web/bench"}


class Board(ui.element, component="web/board.js", esm=BENCH):
    """The layer view; see web/board.js for its methods and events."""

    def __init__(self, mode: str = "lay") -> None:
        super().__init__()
        self._props["mode"] = mode

    def set_mode(self, mode: str) -> None:
        """In "lay" a click lays the chosen part, in "watch" it presses what is there."""
        self._props["mode"] = mode
        self.update()


class Glyph(ui.element, component="web/glyph.js", esm=BENCH):
    """A part's symbol."""

    def __init__(self, part: Part, side: int = 24) -> None:
        super().__init__()
        self._props["side"] = side
        self._props["part"] = part_data(part, load_rules("standard"))


def button(text: str, do: Callable[[], Any], hint: str = "", kind: str = "plain", name: str | None = None) -> ui.button:
    """A button; `kind` is "plain", "main", "small" or "danger", `hint` its tooltip, `name` what screen readers say."""
    made = ui.button(text, on_click=lambda _: attempt(do), color=None)
    made.props("flat no-caps unelevated :ripple=false").classes(f"act act-{kind}")
    if hint:
        made.props["title"] = hint
    if name:
        made.props["aria-label"] = name
    return made


def attempt(do: Callable[[], Any]) -> Any:
    """Do it; if the input is at fault, say so in one message."""
    try:
        return do()
    except TickwrightError as error:
        say(str(error), bad=True)
        return None


def say(text: str, bad: bool = False) -> None:
    """Say something to the user; a screen reader reads it at once."""
    ui.notify(
        text,
        classes="said-bad" if bad else "said",
        position="bottom",
        multi_line=True,
        timeout=9000 if bad else 3500,
        close_button="Close" if bad else False,
    )


@contextmanager
def section(title: str, hint: str = "") -> Iterator[ui.element]:
    """A part of a panel under a heading."""
    with ui.element("section").classes("section") as made:
        heading(title)
        if hint:
            ui.label(hint).classes("hint")
        yield made


def heading(title: str, level: int = 2) -> ui.element:
    """A heading."""
    with ui.element(f"h{level}") as made:
        ui.label(title)
    return made


def field(label: str, value: str = "", hint: str = "") -> ui.input:
    """A line of text with its label above it."""
    made = ui.input(label=label, value=value).props("outlined dense stack-label").classes("field")
    if hint:
        made.props["hint"] = hint
    return made


def choice(label: str, options: Any, value: Any, change: Callable[[Any], Any] | None = None) -> ui.select:
    """One of several values."""
    made = (
        ui.select(options, label=label, value=value).props("outlined dense options-dense stack-label").classes("field")
    )
    if change is not None:
        made.on_value_change(lambda event: attempt(lambda: change(event.value)))
    return made
