"""Judging while the plan is edited: what is known of it now, brought up to date after each edit by two workers."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from tickwright import Plan, TickwrightError
from tickwright.workbench.answering import Judged
from tickwright.workbench.cells import rules_of
from tickwright.workbench.jobs import Cancelled

if TYPE_CHECKING:
    from tickwright import Finding, Measurement, Verdict
    from tickwright.workbench.session import Session

FINDINGS_AFTER_SECONDS = 0.25


@dataclass(slots=True)
class Known:
    """What is known of a plan; `whole` says whether the minimum triggers are in the answers yet.

    `trouble` is why it cannot be judged, "" if it can; `stopped` whether its user had enough of it. `milliseconds`
    passed from the edit to the answers.
    """

    plan: Plan
    judged: Judged = field(default_factory=Judged)
    whole: bool = False
    findings: tuple[Finding, ...] = ()
    searched: str = ""  # "" while findings are sought, then "found" or "tried" (repairs too)
    trouble: str = ""
    stopped: bool = False
    milliseconds: float = 0.0
    box: tuple[int, int, int] | None = None
    began: float = field(default_factory=time.perf_counter)

    @property
    def answers(self) -> tuple[Measurement, ...]:
        """The measure of each trigger and output, as far as known."""
        return self.judged.answers

    @property
    def verdicts(self) -> tuple[Verdict, ...]:
        """Which expectations are kept, once it is `whole`."""
        return self.judged.verdicts

    @property
    def busy(self) -> bool:
        """Whether something is still being worked out."""
        return not self.trouble and not self.stopped and not (self.whole and self.searched == "tried")

    @property
    def waiting(self) -> str:
        """What stands for an answer that is not there yet, or will not be."""
        return "not known" if self.stopped else "..."


class Judging:
    """Keeps `known` up to date; `tell` is called whenever there is news."""

    def __init__(self, session: Session, tell: Callable[[], None]) -> None:
        self.session = session
        self.known = Known(Plan({}))
        self._tell = tell
        self._waiting: dict[str, asyncio.Task[None]] = {}

    def begin(self) -> None:
        """The plan, or the trigger's length, is another one: judge it anew."""
        plan = self.session.document.plan
        self.known = known = Known(plan, box=box_of_parts(plan))
        if not plan.triggers or not plan.outputs:
            missing = "trigger" if not plan.triggers else "output"
            key = "Shift + T" if missing == "trigger" else "Shift + O"
            known.trouble = f"Name a cell as {missing} to have the plan measured: put the cursor on it and press {key}."
        self._tell()
        for name, work in (("judge", self._measure), ("findings", self._find)):
            earlier = self._waiting.get(name)
            if earlier is not None:
                earlier.cancel()
            if not known.trouble:
                self._waiting[name] = asyncio.create_task(self._guarded(known, work))

    def close(self) -> None:
        """Wait for nothing any more."""
        for task in self._waiting.values():
            task.cancel()

    def end(self) -> None:
        """Stop judging this plan; what is known of it stays, and the findings so far with the repairs tried so far."""
        self.session.worker("judge").cancel()
        self.session.worker("findings").end()
        self.known.stopped = True
        self._tell()

    async def _guarded(self, known: Known, work: Callable[[Known], Any]) -> None:
        try:
            await work(known)
        except Cancelled:
            known.stopped = True
        except TickwrightError as error:
            known.trouble = str(error)
        if known is self.known:
            self._tell()

    async def _measure(self, known: Known) -> None:
        def first(judged: Judged) -> None:
            self._answered(known, judged, whole=False)

        asked = known.plan, rules_of(self.session.document)[0], self.session.length_steps
        self._answered(known, await self.session.worker("judge").do("judge", *asked, tell=first), whole=True)

    def _answered(self, known: Known, judged: Judged, whole: bool) -> None:
        known.judged, known.whole = judged, whole
        known.milliseconds = (time.perf_counter() - known.began) * 1000
        if known is self.known:
            self._tell()

    async def _find(self, known: Known) -> None:
        await asyncio.sleep(FINDINGS_AFTER_SECONDS)  # the measurement goes first, and quick edits need no findings
        if known.stopped:
            return

        def first(found: tuple[Finding, ...]) -> None:
            known.findings, known.searched = found, "found"
            if known is self.known:
                self._tell()

        asked = known.plan, rules_of(self.session.document)[0], self.session.length_steps
        known.findings, stopped = await self.session.worker("findings").do("findings", *asked, tell=first, keeps=True)
        known.searched = "tried"
        known.stopped |= stopped


def box_of_parts(plan: Plan) -> tuple[int, int, int] | None:
    """How many cells the parts span along x, y and z; None without parts."""
    if not plan.cells:
        return None
    x, y, z = zip(*plan.cells, strict=True)
    return (max(x) - min(x) + 1, max(y) - min(y) + 1, max(z) - min(z) + 1)
