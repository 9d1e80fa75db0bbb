"""Choose: the wish as a sentence; the designs that meet it as cards, and all their figures below."""

from __future__ import annotations

from functools import partial
from html import escape
from typing import TYPE_CHECKING, Any

from nicegui import ui

from tickwright import Plan
from tickwright.design import Chosen, Design, best_in, design_facts, lying
from tickwright.durations import time_text
from tickwright.workbench.cards import Card
from tickwright.workbench.elements import Scatter, Segments, button, choice, figures, say, unbroken
from tickwright.workbench.job_view import JobView
from tickwright.workbench.telling import Point, hear
from tickwright.workbench.wish_form import WishForm

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

HEADS = ("", "design", "hold", "error", "delay", "minimum trigger", "recovery", "parts", "price", "box")
MEASURES = {
    "parts": "parts", "price": "price", "volume": "cells of the box", "footprint": "cells seen from above",
    "height": "layers", "delay": "delay in steps", "recovery": "recovery in steps", "error": "error in steps",
    "minimum": "minimum trigger",
}  # fmt: skip
ORDERS = {"parts": "fewest parts", "volume": "smallest box", "recovery": "soonest ready"}


class ChoosePanel:
    """The wish and what came of it last."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.chosen: Chosen | None = None
        self.cards: tuple[Card, ...] = ()
        self.pictures: list[tuple[str, ...]] = []
        with ui.element("section").classes("card wish").props('aria-label="Wish"'):
            self.form = WishForm(page.session)
            self.job = JobView(page, "Find designs", self._ask, self._take, keeps=True, kind="main")
        self.said = ui.element("div").classes("said-line").props("aria-live=polite")
        self.grid = ui.element("div").classes("cards")
        with ui.element("details").classes("card all-figures hidden") as self.more:
            with ui.element("summary"):
                ui.label("All figures")
            with ui.element("div").classes("row-line"):
                self.across = choice("Across", MEASURES, "parts", lambda _: self._plot()).classes("narrow")
                self.up = choice("Up", MEASURES, "volume", lambda _: self._plot()).classes("narrow")
            self.plot = Scatter()
            hear(self.plot, "pick", Point, lambda told: self._scroll_to(told.number))
            self.rows = ui.element("div").classes("scroll").props('tabindex=0 role=region aria-label="Figures"')
        with self.said:
            ui.label("Say what hold you wish for; each design that is shown was run.").classes("hint")

    def show(self) -> None:
        """Nothing changes by itself here."""

    def _ask(self) -> tuple[Any, ...] | None:
        wish = self.form.wish()
        return None if wish is None else ("choose", wish)

    def _take(self, found: tuple[Chosen, tuple[Card, ...]]) -> None:
        self.chosen, self.cards = found
        keep = partial(self.session.keep, media_type="image/svg+xml")
        self.pictures = [tuple(f"/bench/kept/{keep(data)}" for data in card.pictures) for card in self.cards]
        self.said.clear()
        with self.said:
            self._say(self.chosen)
        self._lay_cards("parts")
        self.more.classes(remove="hidden" if self.chosen.designs else "", add="" if self.chosen.designs else "hidden")
        self._plot()
        self.rows.clear()
        with self.rows:
            figures([_row(number, design) for number, design in enumerate(self.chosen.designs)], HEADS)

    def _say(self, chosen: Chosen) -> None:
        count = len(chosen.designs)
        exact = sum(not design.error_steps for design in chosen.designs)
        hold = time_text(chosen.wish.hold_steps).split(" (")[0]
        with ui.element("div").classes("said-words"):
            word = "1 design holds" if exact == 1 else f"{exact} designs hold"
            said = f"{word} exactly {hold}." if exact else f"{count} designs come near {hold}."
            ui.label(said if count else "No design was found.").classes("answer-name")
            ui.label(f"{chosen.proposed:,} plans were proposed, {chosen.run:,} run.").classes("hint")
            if chosen.stopped:
                ui.label("Stopped before the end: others may be better.").classes("hint")
            if chosen.reason:
                ui.label(chosen.reason).classes("bad")
            for advice in chosen.relax:
                ui.label(f"It can be had if you relax {advice.text}.")
        if count > 1:
            Segments("Order of the cards", ORDERS, "parts", self._lay_cards)

    def _lay_cards(self, order: str) -> None:
        assert self.chosen is not None
        tags = best_in(self.chosen.designs)
        self.grid.clear()
        with self.grid:
            numbered = list(enumerate(self.chosen.designs))
            for number, design in sorted(numbered, key=lambda one: _known_first(design_measure(one[1], order))):
                self._card(number, design, tags.get(number, ""))

    def _card(self, number: int, design: Design, tag: str) -> None:
        card = self.cards[number]
        with (
            ui.element("article")
            .classes("card design-card")
            .props(f'id="design-{number}" aria-label="Design {number + 1}"')
        ):
            with ui.element("div").classes("card-head"):
                with ui.element("h3"):
                    ui.label(design.family[:1].upper() + design.family[1:])
                if tag:
                    ui.label(tag).classes("tag")
                elif fact := plain_tag(design):
                    ui.label(fact).classes("tag tag-plain")
            ui.label(f"{design.parts} parts in {' × '.join(map(str, design.box))}").classes("hint")
            show_pictures(self.pictures[number], f"Picture of design {number + 1}, {card.view}")
            ui.label(card.view).classes("hint centre")
            show_sentence(card)
            ui.label("; ".join(design_facts(design))).classes("hint")
            if design.recovery_steps is not None:
                at_most = "" if design.recovery_exact else "at most "
                ready = (
                    "at once"
                    if not design.recovery_steps
                    else f"{at_most}{time_text(design.recovery_steps)} after it is off"
                )
                ui.label(f"Ready for the next press {ready}.").classes("hint")
            ui.html(card.lanes, sanitize=False)
            with ui.element("div").classes("row-line"):
                opened = button("Open on the bench", partial(self._open, design), kind="main")
                opened.mark(f"design-open-{number}").props["aria-label"] = f"Open design {number + 1} on the bench"
                compared = button("Compare", partial(self._compare, number, design))
                compared.mark(f"design-compare-{number}").props["aria-label"] = f"Compare design {number + 1}"

    def _open(self, design: Design) -> None:
        open_plan(self.page, file_stem(design), self._plan(design))

    def _compare(self, number: int, design: Design) -> None:
        self.page.designs().add_plan(f"{number + 1} {file_stem(design)}", self._plan(design))

    def _plan(self, design: Design) -> Plan:
        assert self.chosen is not None
        return lying(design, self.chosen.wish.room)

    def _plot(self) -> None:
        if self.chosen is None:
            return
        points = [
            {
                "x": design_measure(design, self.across.value),
                "y": design_measure(design, self.up.value),
                "name": f"{number + 1}: {design_name(design)}",
            }
            for number, design in enumerate(self.chosen.designs)
        ]
        self.plot.show(points, MEASURES[self.across.value], MEASURES[self.up.value])

    def _scroll_to(self, number: int) -> None:
        ui.run_javascript(f"document.getElementById('design-{number}')?.scrollIntoView({{block: 'center'}})")


def show_pictures(urls: tuple[str, ...], said: str) -> None:
    """The picture of a card, in light and in dark: the page shows the one that fits."""
    with ui.element("div").classes("card-picture"):
        for url, theme in zip(urls, ("light", "dark"), strict=False):
            ui.element("img").props(f'src="{url}" alt="{escape(said)}" loading="lazy"').classes(f"only-{theme}")


def show_sentence(card: Card) -> None:
    """What one press does, its figure set apart."""
    before, figure, after = map(escape, card.sentence)
    middle = f'<b class="figure">{figure}</b>' if figure else ""
    ui.html(f"{before}{middle}{after}", sanitize=False).classes("card-sentence")


def open_plan(page: Page, name: str, plan: Plan) -> None:
    """Write a plan to a new file of the folder and open it on the bench."""
    page.session.open_copy(name, plan)
    page.show_room("bench")
    say(f"Opened as {page.session.document.path.name}.")


def _known_first(value: float | None) -> tuple[bool, float]:
    return value is None, value or 0.0


def _row(number: int, design: Design) -> tuple[str, ...]:
    return (
        str(number + 1),
        "; ".join([design.family, *design_facts(design)]),
        unbroken(time_text(design.hold_steps)),
        f"{design.error_steps:+} steps" if design.error_steps else "exact",
        unbroken(time_text(design.delay_steps)),
        unbroken(time_text(design.minimum_trigger_steps)),
        ("" if design.recovery_exact or design.recovery_steps is None else "at most ")
        + unbroken(time_text(design.recovery_steps)),
        str(design.parts),
        f"{design.price:g}",
        "\N{NO-BREAK SPACE}×\N{NO-BREAK SPACE}".join(map(str, design.box)),
    )


def plain_tag(design: Design) -> str:
    """What a design is good at, though others may be as good at it; "" for nothing that a tag may say."""
    if design.recovery_steps == 0 and design.recovery_exact:
        return "ready again at once"
    if design.box[2] <= 2:
        return "one layer" if design.box[2] == 1 else "two layers"
    return ""


def design_name(design: Design) -> str:
    """A design's family and settings in one line."""
    settings = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in design.settings.items())
    return f"{design.family} ({settings})" if settings else design.family


def file_stem(design: Design) -> str:
    """A name for a design's file: its family and its hold in steps."""
    return f"{design.family.replace(' ', '-')}-{design.hold_steps}-steps"


def design_measure(design: Design, name: str) -> float | None:
    """A figure of a design, by its name in MEASURES."""
    values: dict[str, float | None] = {
        "parts": design.parts,
        "volume": design.volume,
        "footprint": design.footprint,
        "height": design.box[2],
        "delay": design.delay_steps,
        "recovery": design.recovery_steps,
        "price": design.price,
        "error": abs(design.error_steps),
        "minimum": design.minimum_trigger_steps,
    }
    return values[name]
