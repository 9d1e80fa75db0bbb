"""The head of the bench: the answer in a sentence, broken promises, kept ones, and a few figures beside it."""

from __future__ import annotations

from collections import Counter
from html import escape
from typing import TYPE_CHECKING

from nicegui import ui

from tickwright.workbench.answering import told
from tickwright.workbench.elements import button
from tickwright.workbench.judging import Known

if TYPE_CHECKING:
    from tickwright.workbench.page import Page


class HeadLine:
    """What the plan does now, after each edit, and how long that took to find."""

    def __init__(self, page: Page) -> None:
        self.page = page
        with ui.element("div").classes("answer-words"):
            self.sentence = ui.html("", sanitize=False, tag="h2").classes("sentence").mark("sentence")
            self.promises = ui.html("", sanitize=False).classes("promises")
            self.promises.props('aria-live="polite" role="group" aria-label="Promises" tabindex="0"')  # it may scroll
        with ui.element("div").classes("strip").mark("strip"):
            self.findings = button("", lambda: page.show_side("judge"), kind="small").classes("strip-findings")
            with ui.element("div").classes("strip-parts"):
                self.count = ui.label("").classes("count")
                self.parts = ui.label("")
            self.state = ui.label("").classes("state")

    def show(self) -> None:
        """Show what is known now."""
        known = self.page.session.judging.known
        said = told(known.plan, known.judged, known.whole)
        if known.trouble:
            self._say(escape(known.trouble), "", plain=True)
        elif said is None:
            self._say("Measuring ..." if known.busy else "Nothing is measured.", "", plain=True)
        else:
            one = said.sentence
            figure = f'<b class="figure">{escape(one.figure)}</b>' if one.figure else ""
            bits = [f'<span class="bad">{escape(text)}</span>' for text in said.broken]
            bits += [f'<span class="good">{escape(said.kept)}</span>'] if said.kept else []
            bits += ["Promises are those of the trigger as built."] if bits and self.page.session.length_steps else []
            bits += [escape(said.least)] if said.least else []
            self._say(f"{escape(one.before)}{figure}{escape(one.after)}", " ".join(bits))
        self._figures(known)

    def _say(self, sentence: str, promises: str, plain: bool = False) -> None:
        self.sentence.set_content(sentence)
        self.sentence.classes(add="plain-words" if plain else "", remove="" if plain else "plain-words")
        self.promises.set_content(promises)

    def _figures(self, known: Known) -> None:
        box = f" in {' × '.join(map(str, known.box))}" if known.box is not None else ""
        count = len(known.plan.cells)
        self.count.set_text(f"{count:,}")
        self.parts.set_text(f"{'part' if count == 1 else 'parts'}{box}")
        counts = Counter(finding.severity for finding in known.findings)
        words = [_count(counts[one], one) for one in ("error", "warning") if counts[one]]
        self.findings.set_text(", ".join(words))
        self.findings.set_visibility(bool(words))
        none = not words and known.searched == "tried" and not known.stopped
        state = (
            "stopped"
            if known.stopped
            else f"measured in {known.milliseconds:.0f} ms"
            if known.whole
            else "measuring ..."
        )
        self.state.set_text(" · ".join((["no findings"] if none else []) + ([state] if known.answers else [])))


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
