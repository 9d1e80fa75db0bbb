"""The wish as a form: read as the `choose` command reads its options, each message at the field that it is for."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any, TypeVar

from nicegui import ui
from nicegui.elements.mixins.validation_element import ValidationElement

from tickwright import load, parse_duration
from tickwright.design import (
    ANSWERS,
    CLAIMS_WANTED,
    OUTPUTS_WANTED,
    TRIGGERS,
    Room,
    Wish,
    on_time,
    read_allowed,
    read_cell,
    read_duty,
    read_have,
    read_pitch,
    read_rules,
    read_size,
    read_way,
    room_of,
    wish_problems,
)
from tickwright.errors import TickwrightError
from tickwright.plan import load_prices
from tickwright.rules import BUILT_IN
from tickwright.space import Cell
from tickwright.workbench.elements import choice, field, heading
from tickwright.workbench.fields import Check, Notes, Number

if TYPE_CHECKING:
    from tickwright.workbench.session import Session

Read = TypeVar("Read")
NO_HOLD = 'Say the hold that is wanted, with its unit, such as "12 s" or "40 ticks".'
ANSWERS_SAID = {
    "any": "any",
    "ignored": "ignored (non-retriggerable)",
    "extends": "extends it (retriggerable)",
    "restarts": "puts it out and starts it anew",
}
FOLDED = "more-wishes"
OUTPUTS_SAID = {
    name: {"any": "any output", "lamp": "a lamp", "line": "a line of wire"}.get(name, name) for name in OUTPUTS_WANTED
}
NO_CELLS: frozenset[Cell] = frozenset()


class WishForm:
    """Fields by the attribute of Wish that each is for; `wish` reads them."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.fields: dict[str, ValidationElement] = {}  # type: ignore[type-arg]
        self._wrong_fields: list[str] = []
        with ui.element("div").classes("wish-line"):
            ui.label("I need")
            self._one_of("output", "Output", OUTPUTS_SAID, "any")
            ui.label("on for")
            self._line("hold_steps", "Hold, such as 12 s")
            ui.label("after one press of a")
            self._one_of("trigger", "Trigger", list(TRIGGERS), "short-button")
        with ui.element("div").classes("wish-line wish-small"):
            self._line("within_steps", "Give or take", "0 steps")
            said = {answer: ANSWERS_SAID.get(answer, answer) for answer in ANSWERS}
            self._one_of("answer", "A second press during the hold", said, "any")
            self._line("trigger_steps", "Trigger length, if another (such as 4 ticks)")
            self.mash = Check("However it is pressed it goes off for good (proved)")
        with ui.element("details").props(f'id="{FOLDED}"').classes("more"):
            with ui.element("summary"):
                ui.label("More wishes")
            with ui.element("div").classes("wish-more"):
                self._more()

    def _more(self) -> None:
        self._line("delay_steps", "The very delay, such as 1 s")
        self._line("delay_at_most_steps", "Delay at most")
        self._line("recovery_at_most_steps", "Ready again at most so long after it is off")
        self.inverted = Check("On at rest, off for the hold")
        self._line("period_steps", "A clock of this period; it runs while a lever is on")
        self._line("duty", "Which part of its period it is on, such as 25%")
        self._number("level", "Level needed at the output", 1, 1, 15)
        self._number("distance_cells", "... behind so many more cells of wire", 0, 0, 15)
        heading("Further outputs", 3)
        also = Notes(label="One a line: bell: on from press for 1 s")
        self.fields["also"] = also.props("outlined dense stack-label autogrow").classes("field").mark("wish-also")
        heading("Room", 3)
        self._line("room", "Size, such as 9 x 5 x 4")
        self._line("floor", "Or a plan of the folder, its parts blocked")
        self._line("blocked", "Blocked cells, such as 2,0,1; 3,0,1")
        self._line("enter", "Trigger at: north, a cell ...")
        self._line("leave", "Output at: south, a cell ...")
        self._line("pitch", "Pitch of copies, such as y=3")
        heading("Parts", 3)
        self._line("have", "On hand, such as comparator 4, repeater 10")
        self._line("allowed", "Only these kinds, such as block, wire")
        self._line("without", "None of these, such as hopper, torch")
        self._line("prices", "Price table, a file of the folder")
        heading("Rules and proof", 3)
        self._line("rules", "Rule sets, such as standard, older-wire", "standard")
        claims: dict[str | None, str] = {None: "nothing more", **{claim: claim for claim in CLAIMS_WANTED}}
        self._one_of("claim", "Prove, too", claims, None)
        self._number("states", "At most so many states for a proof", 20_000, 1, 10_000_000)

    def _line(self, name: str, label: str, value: str = "") -> None:
        self.fields[name] = field(label, value).mark(f"wish-{name}")

    def _one_of(self, name: str, label: str, options: object, value: str | None) -> None:
        self.fields[name] = choice(label, options, value).mark(f"wish-{name}")

    def _number(self, name: str, label: str, value: int, low: int, high: int) -> None:
        made = Number(label, value=value, min=low, max=high, precision=0).classes("field").mark(f"wish-{name}")
        made.props("outlined dense stack-label")
        self.fields[name] = made

    # --- reading ---------------------------------------------------------------------------------------------------

    def wish(self) -> Wish | None:
        """The wish as the fields say it; None if some cannot be meant: they show why, the first has the focus."""
        self._wrong_fields.clear()
        for one in self.fields.values():
            one.error = None
        period = self._read("period_steps", parse_duration, None)
        if not self._text("hold_steps") and period is None:
            self._wrong("hold_steps", NO_HOLD)
        length = self._read("trigger_steps", parse_duration, None)
        wish = Wish(
            hold_steps=self._hold(period),
            within_steps=self._read("within_steps", parse_duration, 0),
            trigger="lever" if length is not None or period is not None else self.fields["trigger"].value,
            trigger_steps=length,
            delay_at_most_steps=self._read("delay_at_most_steps", parse_duration, None),
            output=self.fields["output"].value,
            level=self._whole("level", 1),
            distance_cells=self._whole("distance_cells", 0),
            room=self._room(),
            have=self._read("have", read_have, None),
            allowed=self._allowed(),
            prices=self._read("prices", lambda name: load_prices(self._file(name)), None),
            pitch=self._read("pitch", read_pitch, None),
            rules=self._read("rules", self._rules, ("standard",)),
            answer=self.fields["answer"].value,
            mash_proof=bool(self.mash.value),
            claim=self.fields["claim"].value,
            states=self._whole("states", 20_000),
            delay_steps=self._read("delay_steps", parse_duration, None),
            recovery_at_most_steps=self._read("recovery_at_most_steps", parse_duration, None),
            inverted=bool(self.inverted.value),
            period_steps=period,
            also=tuple(line.strip() for line in self._text("also").splitlines() if line.strip()),
        )
        if not self._wrong_fields:
            for name, message in wish_problems(wish):
                self._wrong(name, message)
        if not self._wrong_fields:
            return wish
        self._show_wrong(self._wrong_fields[0])
        return None

    def _hold(self, period: int | None) -> int:
        """The hold; of a clock it may be said by the duty instead, which else is half of its period."""
        if not self._text("duty"):
            return self._read("hold_steps", parse_duration, 1 if period is None else max(1, period // 2))
        if period is None or self._text("hold_steps"):
            self._wrong("duty", "A duty is part of a period: give the period, and leave the hold out.")
            return 1
        return self._read("duty", lambda text: on_time(period, read_duty(text)), 1)

    def _room(self) -> Room | None:
        size = self._read("room", read_size, None)
        floor = self._read("floor", lambda name: load(self._file(name)), None)
        blocked = self._read("blocked", _cells, NO_CELLS)
        enter = self._read("enter", lambda text: read_way(text, "Trigger at"), None)
        leave = self._read("leave", lambda text: read_way(text, "Output at"), None)
        room: Room | None = None
        given: tuple[Any, ...] = (size, floor)
        # each says one thing more, so that what is wrong with the room is said at the field that it comes by
        for name, more in (
            ("room", ()),
            ("floor", ()),
            ("blocked", (blocked,)),
            ("enter", (enter,)),
            ("leave", (leave,)),
        ):
            given += more
            if not self._wrong_fields and self._text(name):
                room = self._read(name, partial(_room_of, given), None)
        return room

    def _allowed(self) -> frozenset[str] | None:
        without = self._text("without") or None
        only = self._read("allowed", lambda text: read_allowed(text, None), None)
        if without is None:
            return only
        return self._read("without", lambda text: read_allowed(None if only is None else ",".join(only), text), None)

    def _rules(self, text: str) -> tuple[str, ...]:
        names = [name.strip() for name in text.split(",") if name.strip()]
        return read_rules([name if name in BUILT_IN else str(self._file(name)) for name in names])

    def _file(self, name: str) -> str:
        return str(self.session.folder.place(name, ".toml"))

    def _text(self, name: str) -> str:
        return str(self.fields[name].value or "").strip()

    def _whole(self, name: str, default: int) -> int:
        value = self.fields[name].value
        return default if value is None else int(value)

    def _read(self, name: str, read: Callable[[str], Read], default: Read) -> Read:
        text = self._text(name)
        if not text:
            return default
        try:
            return read(text)
        except TickwrightError as error:
            self._wrong(name, str(error))
            return default

    def _wrong(self, name: str, message: str) -> None:
        self.fields[name].error = message
        self._wrong_fields.append(name)

    def _show_wrong(self, name: str) -> None:
        ui.run_javascript(
            f"const field = document.getElementById('c{self.fields[name].id}');"
            f"if (field?.closest('#{FOLDED}')) document.getElementById('{FOLDED}').open = true;"
            "field?.scrollIntoView({block: 'nearest'});"
        )
        self.fields[name].run_method("focus")


def _cells(text: str) -> frozenset[Cell]:
    return frozenset(read_cell(word, "Blocked") for word in text.split(";") if word.strip())


def _room_of(given: tuple[Any, ...], _: str) -> Room | None:
    return room_of(*given)
