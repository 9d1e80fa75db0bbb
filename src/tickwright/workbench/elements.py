"""The page's own elements, and how it makes buttons and fields: plain words, names for screen readers."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Coroutine, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from functools import partial
from html import escape
from pathlib import Path
from typing import Any

import nicegui
from nicegui import Client, background_tasks, context, ui

from tickwright import TickwrightError, load_rules
from tickwright.errors import reason
from tickwright.kinds import Part
from tickwright.publish import TOKENS, WEB_FOLDER
from tickwright.space import Cell, cell_text
from tickwright.workbench.cells import part_data
from tickwright.workbench.fields import Choice, Text
from tickwright.workbench.keys import key_map

SHOWN_CELLS = 6
BENCH = {"tickwright-bench": "web/bench"}
THREE = str(Path(nicegui.__file__).parent / "elements" / "scene" / "dist")  # as NiceGUI's own 3D element names it


class Board(ui.element, component="web/board.js", esm=BENCH):
    """A layer from above, or a section (`plane` "south" or "east"); see web/board.js for its methods and events."""

    def __init__(self, mode: str = "lay", run: str = "main", plane: str = "above") -> None:
        super().__init__()
        self._props["mode"] = mode
        self._props["run"] = run
        self._props["plane"] = plane
        self._props["keys"] = key_map()

    def set_plane(self, plane: str) -> None:
        """Show another plane."""
        self._props["plane"] = plane
        self.update()


class Timeline(ui.element, component="web/timeline.js", esm=BENCH):
    """The time line below the views; see web/timeline.js for its methods and events."""

    def __init__(self, fixed: bool = False) -> None:
        super().__init__()
        self._props["fixed"] = fixed
        self._props["lanes"] = []
        self._props["triggers"] = []

    def show(self, lanes: list[dict[str, Any]], triggers: Sequence[str] = ()) -> None:
        """Show these lanes, each with its name and cell, and a button for each of the triggers."""
        if self._props["lanes"] == lanes and self._props["triggers"] == list(triggers):
            return
        self._props["lanes"] = lanes
        self._props["triggers"] = list(triggers)
        self.update()


class Lifted(ui.element, component="web/lifted.js", esm=BENCH):
    """The layers lifted off each other, or as built, of the plan that the layer view shows."""

    def __init__(self) -> None:
        super().__init__()
        self._props["axes"] = {name: TOKENS["axes"][name] for name in "xyz"}

    def set_apart(self, apart: bool) -> None:
        """Lift the layers, or show them as built."""
        self._props["apart"] = apart
        self.update()


class Solid(
    ui.element, component="web/solid.js", esm={**BENCH, "tickwright-scene": str(WEB_FOLDER), "nicegui-scene": THREE}
):
    """The 3D view; see web/solid.js for its methods and events."""


class Reasons(ui.element, component="web/reasons.js", esm=BENCH):
    """Sentences that say why, one lit at a time; see web/reasons.js for its properties."""

    def show(self, groups: list[dict[str, Any]]) -> None:
        """Tell these, as `reasons_data` has them."""
        self._props["groups"] = groups
        self.update()

    def follow(self, trigger: str) -> None:
        """The run that is shown is one press of that trigger; "": it is another run, whose clock is not theirs."""
        self._props["shown"] = trigger
        self.update()


class Scatter(ui.element, component="web/scatter.js"):
    """A scatter plot of numbered points; see web/scatter.js."""

    def show(self, points: list[dict[str, Any]], across: str, up: str) -> None:
        """Show these points: `x`, `y` (None leaves one out) and `name`."""
        self._props["points"] = points
        self._props["across"] = across
        self._props["up"] = up
        self.update()


class ChartLanes(ui.element, component="web/chart_lanes.js", esm=BENCH):
    """The picture of a chart with edges that can be dragged; see web/chart_lanes.js for its properties and events."""

    def show(self, shown: Mapping[str, Any]) -> None:
        """Show this picture and these edges; an empty mapping shows none."""
        self._props["shown"] = dict(shown)
        self.update()


class Tap(ui.element, component="web/tap.js", esm=BENCH):
    """Layers of a plan in which parts are tapped; see web/tap.js for its properties and events."""

    def __init__(self, picture: Mapping[str, Any]) -> None:
        super().__init__()
        self._props["picture"] = dict(picture)


class Drop(ui.element, component="web/drop.js"):
    """Takes plan files that are dropped on the page; see web/drop.js."""


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
    """Do it; if the input is at fault, say so in one message. What takes time goes on in the background.

    It is done on the page itself, not where the button stands: what is done may make that list anew.
    """
    client = context.client
    with client:
        try:
            done = do()
        except (TickwrightError, OSError) as error:
            say(_why(error), bad=True)
            return None
    if inspect.iscoroutine(done):  # not whatever can be awaited: to await a dialog would open it again
        background_tasks.create(_attempt_late(done, client), name="attempt")
        return None
    return done


async def _attempt_late(doing: Coroutine[Any, Any, Any], client: Client) -> None:
    with client:
        try:
            await doing
        except (TickwrightError, OSError) as error:
            say(_why(error), bad=True)


def _why(error: TickwrightError | OSError) -> str:
    if isinstance(error, OSError):
        return f"{error.filename or 'A file'} cannot be read or written: {reason(error)}."
    return str(error)


def say(text: str, bad: bool = False) -> None:
    """Say something to the user; a screen reader reads it at once."""
    ui.notify(
        text,
        classes="said-bad" if bad else "said",
        textColor="said",  # no colour of Quasar's, which would stand above the page's own style
        actions=[{"label": "Close", "noCaps": True}] if bad else [],
        position="bottom",
        multi_line=True,
        timeout=9000 if bad else 3500,
    )


def ask_flashing(more: str, kept: str, go: str, allow: Callable[[], Any]) -> None:
    """Warn before anything that flashes is let do so: `more` is said besides, `kept` and `go` are the two buttons."""
    with ui.dialog() as dialog, ui.card():
        heading("Let it flash?")
        ui.label(
            "More than three flashes within a second can set off seizures in people with photosensitive epilepsy "
            f"(WCAG 2.2, 2.3.1). {more}"
        )

        def do() -> None:
            dialog.close()
            attempt(allow)

        with ui.element("div").classes("row-line"):
            button(kept, dialog.close, kind="main")
            button(go, do, kind="danger")
    dialog.on("hide", dialog.delete)
    dialog.open()


class Segments:
    """A few choices side by side, of which one holds."""

    def __init__(self, label: str, options: Mapping[Any, str], value: Any, change: Callable[[Any], Any]) -> None:
        self.change = change
        self.buttons: dict[Any, ui.button] = {}
        self.box = ui.element("div").classes("segments").props('role="group"')
        self.box.props["aria-label"] = label
        self.set_options(options, value)

    def set_options(self, options: Mapping[Any, str], value: Any) -> None:
        """Take other choices, if they are others, and show which holds."""
        if {key: made.text for key, made in self.buttons.items()} != dict(options):
            self.box.clear()
            with self.box:
                self.buttons = {
                    key: button(text, partial(self._chosen, key), "", "small") for key, text in options.items()
                }
        self.show(value)

    def show(self, value: Any) -> None:
        """Show which holds."""
        for key, made in self.buttons.items():
            made.props["aria-pressed"] = "true" if key == value else "false"

    def _chosen(self, key: Any) -> Any:
        self.show(key)
        return self.change(key)


def figures(rows: Iterable[Sequence[str]], heads: Sequence[str] = ()) -> ui.html:
    """A table of text as one element, however many rows it has: the first column names the rows."""
    top = "".join(f'<th scope="col">{escape(head)}</th>' for head in heads)
    lines = [f"<tr>{top}</tr>"] if heads else []
    for first, *rest in rows:
        cells = "".join(f"<td>{escape(text)}</td>" for text in rest)
        lines.append(f'<tr><th scope="row">{escape(first)}</th>{cells}</tr>')
    return ui.html(f"<table>{''.join(lines)}</table>", sanitize=False).classes("figures")


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


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """A table of text; without heads the first column names the rows."""
    with ui.element("table").classes("plain-table"):
        if heads:
            with ui.element("tr"):
                for head in heads:
                    with ui.element("th").props("scope=col"):
                        ui.label(head)
        for row in rows:
            with ui.element("tr"):
                for number, cell in enumerate(row):
                    with ui.element("td" if heads or number else "th").props("" if heads or number else "scope=row"):
                        ui.label(cell)


def unbroken(time: str) -> str:
    """A time that a narrow column breaks between seconds and ticks only."""
    return time.replace(" ", "\N{NO-BREAK SPACE}").replace("\N{NO-BREAK SPACE}(", " (")


@contextmanager
def table_of(heads: Sequence[str]) -> Iterator[Callable[..., AbstractContextManager[ui.element]]]:
    """A table whose rows are made one by one: `row` takes texts and gives the last cell, for buttons."""
    with ui.element("table").classes("plain-table") as made:
        with ui.element("tr"):
            for head in heads:
                with ui.element("th").props("scope=col"):
                    ui.label(head)

        def row(*texts: str) -> ui.element:
            with made, ui.element("tr"):
                for text in texts:
                    with ui.element("td"):
                        ui.label(text)
                return ui.element("td")

        yield row


def finding_line(finding: Mapping[str, Any], goto: Callable[[Cell], Any]) -> None:
    """A finding in words, with its cells as links that lead the cursor there."""
    with ui.element("div").classes(f"finding finding-{finding['severity']}"):
        ui.label(finding["severity"]).classes("severity")
        ui.label(finding["message"])
        cells = [(x, y, z) for x, y, z in finding["cells"][:SHOWN_CELLS]]
        if cells:
            with ui.element("div").classes("row-line"):
                for cell in cells:
                    button(cell_text(cell), partial(goto, cell), kind="small", name=f"Go to {cell_text(cell)}")
                if len(finding["cells"]) > SHOWN_CELLS:
                    ui.label(f"and {len(finding['cells']) - SHOWN_CELLS} more")


def field(label: str, value: str = "", hint: str = "") -> ui.input:
    """A line of text with its label above it."""
    made = Text(label=label, value=value).props("outlined dense stack-label").classes("field")
    if hint:
        made.props["hint"] = hint
    return made


def choice(label: str, options: Any, value: Any, change: Callable[[Any], Any] | None = None) -> ui.select:
    """One of several values."""
    made = Choice(options, label=label, value=value).props("outlined dense options-dense stack-label").classes("field")
    if change is not None:
        made.on_value_change(lambda event: attempt(lambda: change(event.value)))
    return made
