"""Why: what the hold of each output is made of, in sentences whose parts are lit in the views as they are spoken of."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

from nicegui import background_tasks, ui

from tickwright import Plan, TickwrightError
from tickwright.workbench.cells import rules_of
from tickwright.workbench.elements import Reasons, section
from tickwright.workbench.jobs import Cancelled

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

AFTER_SECONDS = 0.3  # quick edits need no reasons
MOST_SECONDS = 120


class WhyPanel:
    """The sentences of `why` for the plan as it is, worked out when the panel is shown."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self._plan: Plan | None = None  # whose reasons are told, or sought
        self._task: asyncio.Task[None] | None = None
        with section("Why it holds as it does", "Read off one press from rest. Point at a sentence to see its parts."):
            self.state = ui.label("").classes("hint").props("role=status")
            self.reasons = Reasons()

    def show(self) -> None:
        """Tell the reasons of the plan as it is now."""
        plan = self.session.document.plan
        usual = not self.session.script and self.session.length_steps is None
        self.reasons.follow(next(iter(plan.triggers), "") if usual else "")
        if plan is self._plan:
            return
        self._plan = plan
        self.reasons.show([])
        if self._task is not None:
            self._task.cancel()
        if not plan.triggers or not plan.outputs:
            self._say(self.session.judging.known.trouble or "Name a trigger and an output first.")
            return
        self._say("Finding out why ...")
        self._task = background_tasks.create(self._find(plan), name="reasons")

    async def _find(self, plan: Plan) -> None:
        await asyncio.sleep(AFTER_SECONDS)
        worker = self.session.worker("reasons")
        worker.cancel()
        try:
            found = await worker.do("reasons", plan, rules_of(self.session.document)[0], most_seconds=MOST_SECONDS)
        except Cancelled:
            return
        except TickwrightError as error:
            found, said = [], str(error)
        else:
            said = "" if found else "A press changes nothing here."
        if plan is self._plan:
            self._say(said)
            self.reasons.show(found)

    def _say(self, text: str) -> None:
        self.state.set_text(text)
        self.state.set_visibility(bool(text))
