"""A build that does otherwise than its plan: questions, answers by buttons and taps, and what is likeliest so far."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from nicegui import background_tasks, ui

from tickwright import Plan, TickwrightError
from tickwright.diagnosis import Leading
from tickwright.errors import UsageError
from tickwright.space import Cell, cell_text
from tickwright.workbench.asking import Asking
from tickwright.workbench.cells import rules_of
from tickwright.workbench.elements import Tap, attempt, button, field, heading, section
from tickwright.workbench.jobs import Cancelled
from tickwright.workbench.telling import Taps, hear

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

MOST_SECONDS = 300
LONG = 120  # characters of a question that is set smaller
BACK, SKIP, NONE = "back", "don't know", "none"
ANSWER_WORDS = {SKIP: "Don't know", "yes": "Yes", "no": "No"}
OWN_WORDS = {
    "times": "Or in your words, such as: on for 4.3 s",
    "level": "Or another level, 0 to 15",
    "stands": "Or another part, such as: repeater east delay=2",
    "row": "Or what is otherwise, such as: 3,0,1 wire",
    "extra": "Where, and what: 3,0,1 wire",
}


class AskPanel:
    """The conversation of one page about a build of the plan that was open when it began."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.plan: Plan | None = None  # that the conversation is about
        self.answers: list[str] = []  # as the job is given them, "back" among them
        self.said: list[tuple[str, str]] = []  # questions with their answers, those taken back left out
        self.now: Asking | None = None
        self.trouble = ""
        self.busy = False
        self.lit: list[Cell] = []
        with section("A build that does otherwise"):
            self.box = ui.element("div").classes("stack asking").props('aria-live="polite"')
        self.show()

    def show(self) -> None:
        """Show where the conversation is."""
        self.box.clear()
        with self.box:
            if self.busy:
                self._show_busy()
            elif self.now is None:
                self._show_start()
            else:
                self._show_round(self.now)

    def _show_start(self) -> None:
        ui.label(
            "You built this plan, and it does not do what it does here? Some questions find the mistake; each is "
            "chosen so that its answer tells much. An answer may be wrong, or left open. The plan stays as it is."
        )
        if self.trouble:
            ui.label(self.trouble).classes("bad")
        button("Begin", self._begin, kind="main").mark("ask-begin")

    def _show_busy(self) -> None:
        self.progress = ui.label("Trying what may be wrong ...").classes("hint").props("role=status")
        button("Stop", self._stop, kind="danger")

    def _show_round(self, now: Asking) -> None:
        if self.plan is not self.session.document.plan and self.plan != self.session.document.plan:
            ui.label("The plan was changed since: these questions are about the plan as it was.").classes("bad")
        if now.question:
            made = ui.label(now.question).classes("question")
            made.classes("question-long" if len(now.question) > LONG else "")
            made.props('role="heading" aria-level="3"').mark("question")
        elif now.over:
            ui.label("Then all is well.").classes("question good")
        else:
            ui.label("Nothing is left to ask that would tell more.").classes("question")
        if self.trouble:
            ui.label(self.trouble).classes("bad").props("role=alert")
        if now.picture is not None:
            self._show_picture(now)
        elif now.question:
            self._show_answers(now)
        with ui.element("div").classes("row-line"):
            if self.said:
                button("Take the last answer back", self._take_back, kind="small").mark("ask-back")
            button("Begin anew", self._begin, kind="small")
        if not now.over:
            self._show_leading(now.round.leading)
        if self.said:
            with ui.element("details"):
                with ui.element("summary"):
                    ui.label(f"Answered so far: {len(self.said)}")
                with ui.element("ol").classes("answered"):
                    for question, answer in self.said:
                        with ui.element("li"):
                            ui.label(question).classes("hint")
                            ui.label(answer)

    def _show_picture(self, now: Asking) -> None:
        ui.label("Tap every part that is lit; a wire or comparator with a level counts as lit.").classes("hint")
        self.lit = []
        tap = Tap(now.picture or {})
        hear(tap, "taps", Taps, self._tapped)
        with ui.element("div").classes("answers answers-below"):
            self.these = button("None is lit", self._answer_lit, kind="main").mark("ask-lit")
            button("Don't know", partial(self._answer, SKIP), kind="plain")

    def _tapped(self, told: Taps) -> None:
        self.lit = list(told.cells)
        number = len(self.lit)
        self.these.set_text(f"These {number} are lit" if number > 1 else "This one is lit" if number else "None is lit")

    def _answer_lit(self) -> None:
        text = " ".join(cell_text(cell).strip("()").replace(" ", "") for cell in self.lit) or NONE
        shown = ", ".join(f"{cell_text(cell)}" for cell in self.lit) or "none is lit"
        self._answer(text, shown)

    def _show_answers(self, now: Asking) -> None:
        with ui.element("div").classes("answers"):
            for answer in now.round.answers:
                button(ANSWER_WORDS.get(answer, answer), partial(self._answer, answer)).mark(f"answer-{answer}")
        if now.kind in OWN_WORDS:
            own = field(OWN_WORDS[now.kind]).mark("ask-own")

            def say_own() -> None:
                text = (own.value or "").strip()
                if not text:
                    raise UsageError("Write an answer first, or choose one above.")
                self._answer(text)

            own.on("keydown.enter", lambda _: attempt(say_own))
            button("Answer so", say_own, kind="small")

    def _show_leading(self, leading: tuple[Leading, ...]) -> None:
        heading("Likeliest so far", 3)
        with ui.element("ol").classes("leading"):
            for one in leading:
                words = ", and ".join(mistake.text for mistake in one.mistakes) or "it is built as planned"
                cell = next((mistake.cell for mistake in one.mistakes if mistake.cell is not None), None)
                with ui.element("li"):
                    with ui.element("div").classes("chance").props('aria-hidden="true"'):
                        ui.element("div").style(f"width: {100 * one.chance:.1f}%")
                    ui.label(f"{one.chance:.0%}" if one.chance >= 0.01 else "under 1%").classes("figure-word")
                    ui.label(words)
                    if cell is not None:
                        button("Show", partial(self._goto, cell), kind="small", name=f"Show {cell_text(cell)}")

    def _goto(self, cell: Cell) -> None:
        self.page.board.run_method("goto", *cell)

    # --- what is done ----------------------------------------------------------------------------------------------

    def _begin(self) -> None:
        self.plan, self.answers, self.said, self.now = self.session.document.plan, [], [], None
        self._go_on(self.answers, self.said)

    def _answer(self, text: str, shown: str = "") -> None:
        if self.now is not None and not self.busy:
            words = shown or ANSWER_WORDS.get(text, text)
            self._go_on([*self.answers, text], [*self.said, (self.now.question, words)])

    def _take_back(self) -> None:
        if not self.busy:
            self._go_on([*self.answers, BACK], self.said[:-1])

    def _stop(self) -> None:
        self.session.worker("asking").cancel()

    def _go_on(self, answers: list[str], said: list[tuple[str, str]]) -> None:
        self.busy, self.trouble = True, ""
        self.show()
        background_tasks.create(self._asked(answers, said), name="asking")

    async def _asked(self, answers: list[str], said: list[tuple[str, str]]) -> None:
        rules = rules_of(self.session.document)[0]
        worker = self.session.worker("asking")
        try:
            now = await worker.do("ask", self.plan, rules, tuple(answers), tell=self._told, most_seconds=MOST_SECONDS)
        except Cancelled:
            self.trouble = "Stopped; the last answer was not taken."
        except (TickwrightError, RuntimeError) as error:
            self.trouble = str(error)
        else:
            self.now, self.answers, self.said = now, answers, said
        self.busy = False
        self.show()
        for mistake in self.now.round.leading[0].mistakes[:1] if self.now and self.now.round.leading else ():
            if self.now is not None and self.now.kind == "mended" and mistake.cell is not None:
                self._goto(mistake.cell)

    def _told(self, what: object) -> None:
        if self.busy:
            self.progress.set_text(f"{what} ...")
