"""Tuning in place: what could stand in the cell under the cursor, what each would do, and the one that is tried."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any

from nicegui import background_tasks

from tickwright import TickwrightError
from tickwright.kinds import PARTS, parse_part
from tickwright.workbench import laying
from tickwright.workbench.answering import Tried
from tickwright.workbench.cells import part_data, rules_of
from tickwright.workbench.jobs import Cancelled

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

AFTER_SECONDS = 0.2  # a cursor on its way needs no answers
NONE = -1
ASK = -2


class Trying:
    """The choices at the cursor of one page, and which of them is tried: a ghost, no edit."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.found: tuple[Tried, ...] = ()
        self.number = NONE
        self._asked: tuple[Any, ...] = ()
        self._eager = False  # whether the user waits for the first of them
        self._task: asyncio.Task[None] | None = None

    @property
    def chosen(self) -> Tried | None:
        """What is tried now."""
        return self.found[self.number] if 0 <= self.number < len(self.found) else None

    def look(self) -> None:
        """The cursor, or the plan, is another one: find out what could stand there."""
        plan, cell = self.session.document.plan, self.page.cell
        part = plan.cells.get(cell)
        asked = (cell, part, plan.cells)
        if self._asked and asked[:2] == self._asked[:2] and asked[2] is self._asked[2]:
            return
        self._asked, self._eager = asked, False
        self._take(())
        if self._task is not None:
            self._task.cancel()
        named = plan.triggers and plan.outputs
        if named and part is not None and (PARTS[part.kind].arguments or PARTS[part.kind].acts):
            self._task = background_tasks.create(self._find(asked), name="tries")

    async def _find(self, asked: tuple[Any, ...]) -> None:
        await asyncio.sleep(AFTER_SECONDS)
        plan = self.session.document.plan
        rules = rules_of(self.session.document)[0]

        def so_far(found: tuple[Tried, ...]) -> None:
            if asked is self._asked:
                self._take(found)

        worker = self.session.worker("tries")
        worker.end()
        try:
            found = await worker.do("tries", plan, rules, asked[0], tell=so_far, most_seconds=60, keeps=True)
        except (Cancelled, TickwrightError):
            return
        if asked is self._asked:
            self._take(found)

    def _take(self, found: tuple[Tried, ...]) -> None:
        before, had = self.chosen, bool(self.found)
        self.found = found
        if not found:
            self.number = NONE
        elif self._eager:
            self.choose(next((n for n, one in enumerate(found) if not one.own), NONE))
            return
        if found or had:
            self._show(self.chosen is not before)

    def choose(self, number: int) -> None:
        """Try one of them, or (NONE) none any more; ASK: the first that will be known."""
        if number == ASK:
            self._eager = True
            return
        self._eager = False
        self.number = number if 0 <= number < len(self.found) and not self.found[number].own else NONE
        self._show(True)

    def put(self) -> None:
        """Put what is tried into its cell, as one edit."""
        one, cell = self.chosen, self.page.cell
        if one is None:
            return
        part = parse_part(one.part)
        self.number = NONE
        self.session.change(f"put {part.kind}", lambda plan: laying.fill(plan, [cell], part))

    def leave(self) -> None:
        """Try nothing any more."""
        self.choose(NONE)
        self.page.board.run_method("grab")

    def _show(self, anew: bool) -> None:
        rules = rules_of(self.session.document)[0]
        shown = self.found if len(self.found) > 1 else ()
        for board, plane in self.page.planes():
            rows = [
                {**part_data(parse_part(one.part), rules, plane), "said": one.said, "own": one.own, "short": short(one)}
                for one in shown
            ]
            board.run_method("offer", rows if plane == "above" or self.number >= 0 else [], self.number)
        if anew:
            self.page.show_ghost()


def short(one: Tried) -> str:
    """What is tried in a word or two: the kind, or the setting in which it differs.

    >>> short(Tried("repeater east delay=3", "5 s", "5 s", "", {}, False))
    'delay 3'
    """
    part = parse_part(one.part)
    for argument in PARTS[part.kind].arguments:
        if argument.name in ("delay", "items", "mode"):
            value = getattr(part, argument.name)
            return str(value) if argument.name == "mode" else f"{argument.name} {value}"
    return part.kind
