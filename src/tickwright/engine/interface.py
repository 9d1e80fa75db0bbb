"""What an engine is. Whoever runs plans asks here; no engine imports another, and none is named outside this folder.

An engine is a package that exports the names of `Engine`. There is one way in: `engine(name)`. What it is given are
values (a Plan, a RuleSet, an order, stimuli); what it gives back are traces, notes and numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from importlib import import_module
from typing import Any, Literal, NamedTuple, Protocol

from tickwright.engine.notes import Notes
from tickwright.engine.trace import Trace
from tickwright.errors import UsageError
from tickwright.plan.hand import Stimulus
from tickwright.plan.setup import Setup
from tickwright.space import Cell

ENGINES = {"reference": "tickwright.engine.reference", "fast": "tickwright.engine.native"}
Phase = Literal["start", "due", "moves", "items", "hand"]


class Change(NamedTuple):
    """One change, as a hook is told of it: after all wires are at their fixed point, before anything is notified.

    `number` counts the changes of a run from 0. `actor` is the cell whose part acted (in the moves and items phase, the
    piston, hopper, plate or place; under the hand, what it touched); `levels` holds the cells that show another level
    with it before and after, wires among them; `counts` the containers that hold another number; `stands` the cells in
    which something else stands. `notified` lists who is told of it, in order. `cause` is the number of the change that
    made the actor act: that of which it was notified when it scheduled itself, None at the start and for the hand.
    """

    number: int
    step: int
    phase: Phase
    actor: Cell
    levels: tuple[tuple[Cell, int, int], ...]
    counts: tuple[Cell, ...]
    stands: tuple[Cell, ...]
    notified: tuple[Cell, ...]
    cause: int | None


Hook = Callable[[Change], None]
Sample = Callable[[int, list[int]], None]


class Run(Protocol):
    """One run under way. `now` is the last step at which anything happened."""

    now: int
    notes: Notes

    def advance(self, until: int) -> Any:
        """Simulate every step before `until`; steps in which nothing is due cost nothing."""

    def next_step(self) -> int | None:
        """The next step in which something is due, the hand left out; None if everything is at rest."""


class Job(NamedTuple):
    """One run of a batch: which of its circuits, what the hand does, how long each press lasts (0: as the rules say).

    `presses` has a number of steps for each stimulus, or none at all.
    """

    circuit: int
    stimuli: tuple[Stimulus, ...] = ()
    presses: tuple[int, ...] = ()


class Outcomes(Protocol):
    """What came of each job of a batch; the first six have a row for each watched cell, from `start[job]` on.

    Steps are -1 where there is none. `last_off` is the last step at whose end the cell had gone off, on or not since.
    """

    start: Sequence[int]
    first_on: Sequence[int]
    last_off: Sequence[int]
    pulses: Sequence[int]
    highest: Sequence[int]
    last: Sequence[int]
    changes: Sequence[int]
    last_step: Sequence[int]  # last_step[job]: the last step in which anything happened
    at_rest: Sequence[int]  # at_rest[job]: whether nothing is left to happen
    acted: Sequence[int]  # acted[job]: how many events came due


class Engine(Protocol):
    """What the package of an engine exports."""

    def trace_of(
        self,
        setup: Setup,
        watch: Mapping[str, Cell],
        stimuli: Iterable[Stimulus],
        steps: int,
        most_work: int | None = None,
    ) -> tuple[Trace, Notes] | None:
        """Simulate steps 0 to `steps` - 1: what the watched cells show, and what there is to say.

        An engine may give up, and return None, once the run has taken more than `most_work` steps and events.
        """


def engine(name: str) -> Engine:
    """The engine of that name, loaded when first asked for.

    Raises UsageError for a name that is none, and where the engine's library is not installed.

    >>> engine("reference").__name__
    'tickwright.engine.reference'
    """
    if name not in ENGINES:
        raise UsageError(f'There is no engine "{name}": use {" or ".join(ENGINES)}.')
    found: Any = import_module(ENGINES[name])
    return found  # type: ignore[no-any-return]


def is_installed(name: str) -> bool:
    """Whether that engine can be used here: the reference engine always, the fast one where its library is."""
    return name == "reference" or bool(getattr(import_module(ENGINES[name]), "is_installed", lambda: True)())
