"""What the page's own elements tell, each in its form: what has another one is left out, with one line in the log."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any, Literal, TypeVar

import msgspec
from nicegui import events, ui

from tickwright.space import Cell
from tickwright.workbench.actions import Asked

LOG = logging.getLogger("tickwright.workbench")


class Told(msgspec.Struct, frozen=True):
    """Something that an element tells."""


class AtCell(Told, frozen=True):
    """A cell is meant."""

    cell: Cell


class Picked(Told, frozen=True):
    """A cell of the view in space, or none, is picked."""

    cell: Cell | None


class AtStep(Told, frozen=True):
    """A step is meant."""

    step: int


class TryNumber(Told, frozen=True):
    """One of what may be tried is meant, by its number; -1 for none, -2 for the first that will be known."""

    number: int


class CellPressed(Told, frozen=True):
    """What is in a cell is pressed."""

    cell: Cell
    step: int


class TriggerPressed(Told, frozen=True):
    """A trigger is pressed."""

    name: str
    step: int


class Cursor(Told, frozen=True):
    """The cursor is at a cell, and a box selected or none."""

    cell: Cell
    box: tuple[Cell, Cell] | None = None


class Edit(Asked, frozen=True):
    """An edit is asked for, in that turn of the layer view."""

    turn: int | None = None


class Question(Told, frozen=True):
    """A dialog is asked for."""

    what: str


class Taps(Told, frozen=True):
    """These cells are tapped."""

    cells: list[Cell]


class Acts(Told, frozen=True):
    """The acts of the script are others."""

    acts: list[str]


class Flashing(Told, frozen=True):
    """What flashes is to be let do so, or not any more."""

    allow: bool


class Point(Told, frozen=True):
    """A point of a plot is picked."""

    number: int


class EdgeMoved(Told, frozen=True):
    """An edge of a clause of a claim is so many steps later, or earlier."""

    claim: int
    clause: int
    side: Literal["begin", "end"]
    by: int


class Said(Told, frozen=True):
    """Something is to be said."""

    text: str
    bad: bool


T = TypeVar("T", bound=msgspec.Struct)


def hear(element: ui.element, name: str, form: type[T], do: Callable[[T], Any]) -> None:
    """Do something with what an element tells under a name, if it has that form."""

    def read(event: events.GenericEventArguments) -> None:
        try:
            told = msgspec.convert(event.args, form)
        except msgspec.ValidationError as error:
            LOG.warning('A message "%s" to the workbench could not be read (%s) and was left out.', name, error)
            return
        do(told)

    element.on(name, read)
