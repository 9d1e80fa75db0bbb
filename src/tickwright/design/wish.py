"""What is wanted of a design, and what is found: the records that the chooser and the tuner share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from tickwright.arguments import checked_fields
from tickwright.design.settings import settings_words
from tickwright.errors import UsageError, near
from tickwright.kinds import BUTTONS
from tickwright.plan import Plan
from tickwright.plan.bill import Prices
from tickwright.space import HORIZONTAL, Cell, cell_text

__all__ = ["ANSWERS", "OUTPUTS_WANTED", "TRIGGERS", "Design", "Fit", "Room", "Wish"]

TRIGGERS = (*BUTTONS, "lever", "tread-plate", "item-plate")
ANSWERS = ("any", "ignored", "extends", "restarts")
OUTPUTS_WANTED = ("any", "lamp", "line")


@checked_fields
@dataclass(frozen=True, slots=True)
class Room:
    """A box of cells from (0, 0, 0), of which the `blocked` ones may hold no part.

    `enter` and `leave` say where the trigger and the output must be: a side ("north", ...: in the outermost cells
    there), a cell, or None for anywhere. What is blocked, and what lies outside, is taken to be dead: it neither gives
    nor carries power.
    """

    size: Cell
    blocked: frozenset[Cell] = frozenset()
    enter: str | Cell | None = None
    leave: str | Cell | None = None

    def __post_init__(self) -> None:
        if min(self.size) < 1:
            raise UsageError(f"A room of {self.text} cells holds nothing: each length must be 1 or more.")
        for cell in self.blocked:
            if not self.holds(cell):
                raise UsageError(f"The blocked cell {cell_text(cell)} lies outside the room of {self.text}.")
        for what, side in (("enter", self.enter), ("leave", self.leave)):
            if isinstance(side, str) and side not in HORIZONTAL:
                raise UsageError(f'A room has no side "{side}" to {what} by.{near(side, HORIZONTAL)}')
            if isinstance(side, tuple) and (not self.holds(side) or side in self.blocked):
                wrong = "is blocked" if self.holds(side) else f"lies outside the room of {self.text}"
                raise UsageError(f"The cell {cell_text(side)} to {what} by {wrong}.")
        if isinstance(self.enter, tuple) and self.enter == self.leave:
            raise UsageError(f"The cell {cell_text(self.enter)} cannot hold both the trigger and the output.")

    @property
    def text(self) -> str:
        """The box as messages write it: '9 x 5 x 4'."""
        return " x ".join(map(str, self.size))

    def holds(self, cell: Cell) -> bool:
        """Whether the cell lies in the box."""
        return all(0 <= here < length for here, length in zip(cell, self.size, strict=True))

    def at(self, where: str | Cell | None, cell: Cell) -> bool:
        """Whether the cell is where `enter` or `leave` says."""
        return all(cell[axis] == value for axis, value in self.fixed(where))

    def fixed(self, where: str | Cell | None) -> tuple[tuple[int, int], ...]:
        """Which coordinates `enter` or `leave` fixes, and at what: (axis, value), axis 0 for x."""
        if where is None:
            return ()
        if not isinstance(where, str):
            return tuple(enumerate(where))
        edges = {"west": (0, 0), "east": (0, self.size[0] - 1), "north": (1, 0), "south": (1, self.size[1] - 1)}
        return (edges[where],)


@checked_fields
@dataclass(frozen=True, slots=True)
class Wish:
    """What is wanted: a hold of `hold_steps`, off by at most `within_steps`, from one press of `trigger`.

    `trigger` is a kind of part. With `trigger_steps` it is a press of that length, given by a lever. `output`: "lamp",
    "line" (a wire) or "any"; the output must show `level` behind `distance_cells` more cells of wire. `have` says of
    which kinds no more than so many are on hand; no kind may be used that is not in `allowed`; None does not ask.
    `pitch` is an axis and the pitch at which copies must stand side by side. `rules` are the rule sets under which it
    must hold. `answer`: what a second press during the hold must do. `mash_proof`: however it is pressed, the output
    must go off for good in the end, as far as a proof within `states` states tells. `claim`: what else is to be proved.
    `delay_steps` is the very delay that is wanted, `delay_at_most_steps` and `recovery_at_most_steps` are limits.
    `inverted`: the output is on at rest, and off for the hold. With `period_steps` a clock is wanted that a lever runs:
    its output is on for `hold_steps` in each period. `also` are further outputs, each with its name, what it drives
    and its claim as in charts: such a plan is composed.
    """

    hold_steps: int
    within_steps: int = 0
    trigger: str = "short-button"
    trigger_steps: int | None = None
    delay_at_most_steps: int | None = None
    output: str = "any"
    level: int = 1
    distance_cells: int = 0
    room: Room | None = None
    have: Mapping[str, int] | None = None
    allowed: frozenset[str] | None = None
    prices: Prices | None = None
    pitch: tuple[str, int] | None = None
    rules: tuple[str, ...] = ("standard",)
    answer: str = "any"
    mash_proof: bool = False
    claim: str | None = None
    states: int = 20_000
    delay_steps: int | None = None
    recovery_at_most_steps: int | None = None
    inverted: bool = False
    period_steps: int | None = None
    also: tuple[str, ...] = ()

    def as_data(self) -> dict[str, Any]:
        """The wish as JSON shows it."""
        data = {name: getattr(self, name) for name in self.__slots__}
        room = self.room
        if room is not None:
            data["room"] = {
                "size": list(room.size),
                "blocked": sorted(map(list, room.blocked)),
                "enter": room.enter,
                "leave": room.leave,
            }
        data["have"] = None if self.have is None else dict(self.have)
        data["allowed"] = None if self.allowed is None else sorted(self.allowed)
        data["prices"] = None if self.prices is None else {kind: float(price) for kind, price in self.prices.items()}
        lists = {"rules": list(self.rules), "also": list(self.also)}
        return {**data, "pitch": self.pitch and list(self.pitch), **lists}


@dataclass(frozen=True, slots=True)
class Fit:
    """How a plan lies in a room: mirrored east to west if so, turned by quarter turns, its corner at `offset`."""

    quarter_turns: int
    mirrored: bool
    offset: Cell


@dataclass(frozen=True, slots=True)
class Design:
    """A plan that was found and run, with its figures, in steps; `error_steps` is its hold less the one wanted.

    `settings` are the numbers that its family was given. `recovery_steps` is exact if `recovery_exact`, else a press so
    long after the output went off is sure to be answered like the first, and none was tried before; None if there is no
    such time. `box` counts the cells that it spans along x, y, z. `fit` says how the plan lies in the room of the wish.
    `active_steps`: in how many steps after the press something happened; `rest_steps`: the last of them.
    `verdicts` are what was found for wishes that take many runs, by name. `inverted`: the output is on at rest, delay
    and hold are those of its absence. A clock has a `period_steps`, and its hold is the time it is on in each period.
    """

    family: str
    settings: Mapping[str, int | str]
    plan: Plan
    output: str
    delay_steps: int
    hold_steps: int
    error_steps: int
    minimum_trigger_steps: int | None
    recovery_steps: int | None
    recovery_exact: bool
    parts: int
    price: float
    box: Cell
    fit: Fit | None = None
    active_steps: int = 0
    rest_steps: int | None = None
    lowest_level: int = 0
    verdicts: Mapping[str, str] = field(default_factory=dict)
    file: str | None = None
    inverted: bool = False
    period_steps: int | None = None

    @property
    def volume(self) -> int:
        """The cells of the box."""
        return self.box[0] * self.box[1] * self.box[2]

    @property
    def footprint(self) -> int:
        """The cells of the box seen from above."""
        return self.box[0] * self.box[1]

    def as_data(self) -> dict[str, Any]:
        """The design as JSON shows it; its plan is left out."""
        return {
            "family": self.family,
            "settings": dict(self.settings),
            "file": self.file,
            "output": self.output,
            "hold_steps": self.hold_steps,
            "error_steps": self.error_steps,
            "delay_steps": self.delay_steps,
            "minimum_trigger_steps": self.minimum_trigger_steps,
            "recovery_steps": self.recovery_steps,
            "recovery_exact": self.recovery_exact,
            "parts": self.parts,
            "price": self.price,
            "box": list(self.box),
            "volume": self.volume,
            "footprint": self.footprint,
            "fit": None if self.fit is None else _fit_data(self.fit),
            "verdicts": dict(self.verdicts),
            "words": settings_words(self.settings),
            "inverted": self.inverted,
            "period_steps": self.period_steps,
        }


def _fit_data(fit: Fit) -> dict[str, Any]:
    return {"quarter_turns": fit.quarter_turns, "mirrored": fit.mirrored, "offset": list(fit.offset)}
