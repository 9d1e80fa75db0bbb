"""Judge: the answers of the plan as it is, expectations, findings with their repairs, the dossier and the proof."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui

from tickwright import Expectation, Finding, Measurement, Plan, Proof, Verdict, parse_duration
from tickwright.design import KNOBS_COST, KnobRow, Tuned, Tuning, error_text, holds_texts
from tickwright.durations import ticks_text, time_text
from tickwright.errors import UsageError
from tickwright.plan import ASKS, WIDENED, apply_edits, read_expectation
from tickwright.publish import hold_text, press_text
from tickwright.space import cell_text
from tickwright.verify import CLAIMS
from tickwright.workbench import laying
from tickwright.workbench.elements import (
    attempt,
    button,
    choice,
    field,
    figures,
    finding_line,
    section,
    table,
    unbroken,
)
from tickwright.workbench.job_view import JobView
from tickwright.workbench.judging import Known

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

STATES = 100_000
MOST_FINDINGS = 20
ANSWER_HEADS = ("press", "kind", "hold", "delay", "least", "margin")
VALUES = {
    "hold": "Hold, such as 5.4 s",
    "delay": "Delay, such as 2 ticks",
    "recovery": "Recovery, such as 1 s",
    "settles_within": "Time, such as 6 s",
    "minimum_trigger_at_most": "Length, such as 6 ticks",
    "pulses": "Number, such as 1",
    "level_at_least": "Level, 1 to 15",
}


class JudgePanel:
    """The panel that says what the plan does and what is wrong with it."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        with section("Answers"):
            self.length = field("Trigger length, to try another one", length_text(self.session.length_steps)).mark(
                "trigger-length"
            )
            self.length.props('placeholder="as built"')
            self.length.on("change", lambda _: attempt(self._set_length))
            self.answers = ui.element("div").classes("stack")
        with section("Findings"):
            self.findings = ui.element("div").classes("stack").props('aria-live="polite"')
        with section("Expectations", "What the plan must do; they are kept in its file.") as promises:
            promises.props('id="judge-promise"')
            self.wishes = ui.element("div").classes("stack")
            self._wish_form()
        with section("Tune", "The smallest changes that bring the plan to another hold; each was run."):
            with ui.element("div").classes("pair"):
                self.tune_hold = field("Hold wanted").mark("tune-hold")
                self.tune_within = field("Give or take", "0 steps")
            self.tuning = JobView(page, "Tune", self._tune, self._show_tuning, keeps=True)
        with section("Dossier", "A second press, recovery, every length and phase, order, neighbours, rule sets."):
            self.dossier = JobView(page, "Work out the dossier", self._dossier, self._show_dossier)
        with section("Proof", "Holds the claim against any presses at any time.") as proof:
            proof.props('id="judge-proof"')
            self.claim = choice("Claim", [claim for claim in CLAIMS if claim != "holds"], "settles")
            self.proof = JobView(page, "Prove", self._prove, self._show_proof, keeps=True)

    def show(self) -> None:
        """Show what is known now."""
        known = self.session.judging.known
        self.answers.clear()
        with self.answers:
            if known.trouble:
                ui.label(known.trouble).classes("hint")
            if known.answers:
                figures([_answer_row(answer, known) for answer in known.answers], ANSWER_HEADS)
        self.findings.clear()
        with self.findings:
            for finding in known.findings[:MOST_FINDINGS]:
                self._finding(finding)
            if len(known.findings) > MOST_FINDINGS:
                ui.label(f"and {len(known.findings) - MOST_FINDINGS} more, once these are mended").classes("hint")
            if known.stopped:
                ui.label("Stopped before all was looked for.").classes("hint")
            elif not known.findings and known.searched:
                ui.label("Nothing is wrong with it.").classes("hint")
            elif known.busy:
                with ui.element("div").classes("row-line"):
                    ui.label("Trying repairs ..." if known.searched else "Looking ...").classes("hint")
                    button("Stop", self.session.judging.end, kind="small")
        self._show_wishes()

    def _finding(self, finding: Finding) -> None:
        finding_line(finding.as_data(), self.page.goto)
        repair = finding.repair
        if repair is None:
            return
        with ui.element("div").classes("repair"):
            ui.label(repair.text)
            if repair.edits:
                said = "Apply this repair" if repair.verified else "Apply (not verified)"
                button(said, partial(self._repair, finding), kind="main").mark(f"repair-{finding.code}")

    def _repair(self, finding: Finding) -> None:
        repair = finding.repair
        if repair is not None:
            self.session.change(f"repair {finding.code}", lambda plan: apply_edits(plan, repair.edits))

    def _set_length(self) -> None:
        text = (self.length.value or "").strip()
        steps = parse_duration(text) if text else None
        if steps == 0:
            raise UsageError("A trigger of no length cannot be tried: give at least 1 step.")
        self.session.length_steps = steps
        self.session.tell("length")

    # --- expectations ----------------------------------------------------------------------------------------------

    def _show_wishes(self) -> None:
        known, plan = self.session.judging.known, self.session.document.plan
        for made, names in ((self.wish_trigger, list(plan.triggers)), (self.wish_output, list(plan.outputs))):
            made.set_options(names, value=made.value if made.value in names else next(iter(names), None))
        self.wishes.clear()
        with self.wishes:
            failed = [verdict for verdict in known.verdicts if not verdict.passed]
            if known.verdicts:
                kept = f"{len(known.verdicts) - len(failed)} of {len(known.verdicts)} kept, with the trigger as built."
                ui.label(kept).classes("bad" if failed else "good")
            if failed:
                figures([_verdict_row(verdict) for verdict in failed], ("failed", "measured", "expected"))
            for number, wish in enumerate(plan.expectations):
                with ui.element("div").classes("row-line"):
                    ui.label(wish_text(wish)).classes("hint")
                    said = f"Take out the expectation {wish_text(wish)}"
                    button("Take out", partial(self._take_out, number), kind="small", name=said)

    def _wish_form(self) -> None:
        with ui.element("div").classes("pair"):
            self.wish_trigger = choice("Trigger", [], None).mark("expect-trigger")
            self.wish_output = choice("Output", [], None).mark("expect-output")
        asks = {key: key.replace("_", " ") for key in ASKS}
        self.wish_key = choice("What is expected", asks, "hold", self._show_wish_key).mark("expect-key")
        with ui.element("div").classes("pair"):
            self.wish_value = field(VALUES["hold"]).mark("expect-value")
            self.wish_within = field("Give or take").mark("expect-within")
        button("Expect this", self._wish)

    def _show_wish_key(self, key: str) -> None:
        self.wish_value.props["label"] = VALUES.get(key, "")
        self.wish_value.set_visibility(key in VALUES)
        self.wish_within.set_visibility(key in WIDENED)

    def _wish(self) -> None:
        plan, key = self.session.document.plan, self.wish_key.value
        if self.wish_trigger.value is None or self.wish_output.value is None:
            raise UsageError("An expectation needs a trigger and an output: name both first (T, O).")
        value = (self.wish_value.value or "").strip()
        within = (self.wish_within.value or "").strip() if key in WIDENED else ""
        wish = read_expectation(plan, self.wish_trigger.value, self.wish_output.value, key, value, within)
        self.session.change("expect", lambda plan: laying.with_wishes(plan, (*plan.expectations, wish)))

    def _take_out(self, number: int) -> None:
        self.session.change(
            "expect no more",
            lambda plan: laying.with_wishes(plan, (w for at, w in enumerate(plan.expectations) if at != number)),
        )

    # --- tuning ----------------------------------------------------------------------------------------------------

    def _tune(self) -> tuple[Any, ...]:
        hold = parse_duration(self.tune_hold.value or "")
        within = parse_duration(self.tune_within.value or "0 steps")
        return ("tune", self.session.document.plan, self.session.rules(), hold, within)

    def _show_tuning(self, found: Tuning) -> None:
        plan = self.session.document.plan
        if found.found and all(abs(one.error_steps) > found.within_steps for one in found.found):
            said = "No change that was tried reaches it: this is the nearest. Choose makes a design anew."
            ui.label(said).classes("hint")
        for one in found.found:
            with ui.element("div").classes("repair"):
                for change in one.changes:
                    ui.label(change)
                cells = f"{one.cells_touched} cell{'s' if one.cells_touched != 1 else ''} touched"
                error = error_text(one.error_steps)
                ui.label(f"hold {time_text(one.hold_steps)}, {error}; {cells}").classes("hint")
                ui.label(f"Cost: {one.cost}").classes("hint")
                button("Apply this change", partial(self._apply, plan, one), kind="main").mark("apply-tuned")
        if not found.finished:
            ui.label(f"The search was cut short after {found.runs:,} runs: others may be better.").classes("hint")
        if not found.found:
            ui.label(f"No change was found that comes near it; {found.runs:,} plans were run.").classes("hint")
        if found.knob_table:
            with ui.element("details"):
                with ui.element("summary"):
                    ui.label("What each knob does")
                table(("part", "setting", "hold"), [_knob_row(row) for row in found.knob_table])
                ui.label(KNOBS_COST).classes("hint")

    def _apply(self, tuned_from: Plan, one: Tuned) -> None:
        if self.session.document.plan != tuned_from:
            raise UsageError("The plan was changed since it was tuned: tune it again.")
        self.session.change("tune", lambda plan: replace(one.plan, path=plan.path, source=plan.source))

    # --- what takes longer -----------------------------------------------------------------------------------------

    def _dossier(self) -> tuple[Any, ...]:
        return ("dossier", self.session.document.plan, self.session.rules())

    def _show_dossier(self, tables: Any) -> None:
        for one in tables:
            with ui.element("details"):
                with ui.element("summary"):
                    ui.label(one.title)
                table(one.heads, one.rows)
                for note in one.notes:
                    ui.label(note).classes("hint")

    def _prove(self) -> tuple[Any, ...]:
        return ("prove", self.session.document.plan, self.session.rules(), self.claim.value, STATES)

    def _show_proof(self, proof: Proof) -> None:
        style = {"proved": "good", "refuted": "bad"}.get(proof.verdict, "")
        ui.label(f"{proof.verdict}: {proof.claim}").classes(f"answer-name {style}")
        ui.label(f"{proof.detail}.")
        explored = f"{proof.states:,} states explored in {proof.seconds:.1f} s"
        ui.label(f"For {proof.bound}. {explored}.").classes("hint")
        if proof.counterexample:
            ui.label(" ".join(proof.counterexample)).classes("code")
            button("Watch the counterexample", partial(self._watch, proof), kind="main")

    def _watch(self, proof: Proof) -> None:
        self.page.bench.watch.set_script(list(proof.counterexample))
        self.page.show_side("press")


def length_text(steps: int | None) -> str:
    """A length as the field shows it."""
    return "" if steps is None else ticks_text(steps)


def _answer_row(answer: Measurement, known: Known) -> tuple[str, ...]:
    least, margin = answer.minimum_trigger_steps, answer.margin_steps
    return (
        press_text(answer).replace("->", "→"),
        answer.kind_text,
        unbroken(hold_text(answer)),
        unbroken(time_text(answer.delay_steps)),
        unbroken(time_text(least)) if known.whole else known.waiting,
        unbroken(time_text(margin)) if known.whole else known.waiting,
    )


def _knob_row(row: KnobRow) -> tuple[str, str, str]:
    part = f"{row.knob.part} at {cell_text(row.knob.cell)}"
    return part, row.setting_text, "; ".join(holds_texts(row))


def _verdict_row(verdict: Verdict) -> tuple[str, str, str]:
    what = f"{verdict.trigger} → {verdict.output}: {verdict.key.replace('_', ' ')}"
    return what, verdict.measured, verdict.expected


def wish_text(wish: Expectation) -> str:
    """An expectation in one line.

    >>> wish_text(Expectation("press", "lamp", hold_steps=108, pulses=1))
    'press → lamp: hold 5.4 s (54 ticks), pulses 1'
    """
    said = []
    for name in wish.__slots__:
        value = getattr(wish, name)
        if name in ("trigger", "output") or value in (None, False) or (name == "within_steps" and value == 0):
            continue
        shown = time_text(value) if name.endswith("_steps") else "" if value is True else str(value)
        said.append(f"{name.removesuffix('_steps').replace('_', ' ')} {shown}".strip())
    return f"{wish.trigger} → {wish.output}: {', '.join(said)}"
