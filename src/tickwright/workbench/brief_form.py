"""A brief as a form: its triggers, outputs and claims a line each, written as the text of a brief file."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence

from nicegui import ui

from tickwright import Plan
from tickwright.design import read_brief, read_size
from tickwright.errors import TickwrightError, UsageError
from tickwright.kinds import BUTTONS, PARTS
from tickwright.space import Cell
from tickwright.workbench.elements import field
from tickwright.workbench.fields import Notes

CLAIMS = """gate: on from press + 2 s for 6 s
lamp: on from press + 0.3 s until gate off + 1 s
press: ignored until lamp off"""
EXAMPLE = ("press short-button", "gate line\nlamp lamp", CLAIMS)  # triggers, outputs, claims
FOLDED = "brief-more"


class BriefForm:
    """Fields of a brief; `text` is its file, refused at the field that is wrong."""

    def __init__(self) -> None:
        given, taken, claims = EXAMPLE
        with ui.element("div").classes("brief-fields"):
            self.inputs = _lines("Triggers, one a line: name and part", given, "brief-inputs")
            self.outputs = _lines("Outputs: name and lamp, line or piston-door", taken, "brief-outputs")
            self.claims = _lines("Claims, one a line", claims, "brief-claims")
        with ui.element("details").props(f'id="{FOLDED}"').classes("more"):
            with ui.element("summary"):
                ui.label("Room, rules, state machines")
            with ui.element("div").classes("wish-more"):
                self.room = field("Room, such as 36 x 26 x 6").mark("brief-room")
                self.rules = field("Rule sets, such as standard, older-wire", "standard").mark("brief-rules")
                self.more = _lines("More tables of a brief file, such as [[machine]]", "", "brief-more-tables")

    def fill(self, plan: Plan) -> None:
        """Take triggers, outputs and claims of a plan. Raises UsageError if it claims nothing."""
        if not plan.charts:
            raise UsageError("The plan that is open has no chart: write its claims under Chart first.")
        self.inputs.set_value("\n".join(f"{name} {_input(plan, name)}" for name in plan.triggers))
        self.outputs.set_value("\n".join(f"{name} {_drives(plan, name)}" for name in plan.outputs))
        self.claims.set_value("\n".join(claim for chart in plan.charts for claim in chart.shows))

    def text(self) -> str:
        """The text of the brief's file. Raises TickwrightError where it cannot be read; it stands at its field, too."""
        for one in (self.inputs, self.outputs, self.claims, self.room, self.more):
            one.error = None
        inputs = self._ends(self.inputs, "part", "press short-button")
        outputs = self._ends(self.outputs, "drives", "lamp lamp")
        claims = _written(self.claims)
        rules = [name.strip() for name in (self.rules.value or "").split(",") if name.strip()] or ["standard"]
        head = ['format = "tickwright brief 1"', f"rules = {json.dumps(rules)}"]
        size = self._size()
        room = [] if size is None else ["[room]", f"size = {json.dumps(size)}"]
        more = (self.more.value or "").strip()
        text = "\n".join(
            [*head, *room, "[inputs]", *inputs, "[outputs]", *outputs, "[[chart]]",
             f"shows = {json.dumps(claims, ensure_ascii=False)}", more, ""]
        )  # fmt: skip
        try:
            read_brief(text)
        except TickwrightError as error:
            self._show(error, more)
            raise
        return text

    def _show(self, error: TickwrightError, more: str) -> None:
        said = getattr(error, "message", str(error))
        named = [line for line in _written(self.claims) if line in said]
        at = self.claims if named or "claim" in said else self.more if more else self.inputs
        at.error = said

    def _ends(self, made: Notes, key: str, example: str) -> list[str]:
        rows = []
        for line in _written(made):
            name, _, rest = line.partition(" ")
            kind, _, where = rest.strip().partition(" ")
            if not kind:
                made.error = f'"{line}" names nothing after its name: write it as "{example}".'
                raise UsageError(made.error)
            place = f", at = {_place(where)}" if where.strip() else ""
            rows.append(f"{json.dumps(name, ensure_ascii=False)} = {{{key} = {json.dumps(kind)}{place}}}")
        return rows

    def _size(self) -> list[int] | None:
        size = size_in(self.room)
        return None if size is None else list(size)


def size_in(made: ui.input) -> Cell | None:
    """The box that is written in a field, None if nothing is. Raises TickwrightError, which stands at it, too."""
    text = (made.value or "").strip()
    if not text:
        return None
    try:
        return read_size(text)
    except TickwrightError as error:
        made.error = str(error)
        raise


def _place(text: str) -> str:
    words = [word for word in text.replace(",", " ").replace("at", " ").split() if word]
    if len(words) == 3 and all(word.isdecimal() for word in words):
        return json.dumps([int(word) for word in words])
    return json.dumps(" ".join(words))


def _lines(label: str, value: str, mark: str) -> Notes:
    made = Notes(label=label, value=value)
    made.props("outlined dense stack-label autogrow").classes("field").mark(mark)
    return made


def _written(made: Notes) -> Sequence[str]:
    return [" ".join(line.split()) for line in (made.value or "").splitlines() if line.strip()]


def _input(plan: Plan, name: str) -> str:
    part = plan.cells.get(plan.triggers[name])
    known: Iterable[str] = (*BUTTONS, "lever", "item-plate", "tread-plate")
    return part.kind if part is not None and part.kind in known else "short-button"


def _drives(plan: Plan, name: str) -> str:
    part = plan.cells.get(plan.outputs[name])
    return "lamp" if part is not None and PARTS[part.kind].behaviour == "lamp" else "line"
