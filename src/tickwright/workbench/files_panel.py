"""The shelf: the plans of the opened folder as cards, a wish, new plans, examples, and saving."""

from __future__ import annotations

import asyncio
import datetime
from functools import partial
from typing import TYPE_CHECKING

from nicegui import background_tasks, ui

from tickwright import TickwrightError, load
from tickwright.design import TRIGGERS
from tickwright.errors import UsageError
from tickwright.plan import examples_folder
from tickwright.workbench.cards import Card
from tickwright.workbench.choose_panel import open_plan, show_pictures, show_sentence
from tickwright.workbench.document import ChangedOutside
from tickwright.workbench.elements import Segments, attempt, button, choice, field, heading, say, table_of
from tickwright.workbench.folder import Listed
from tickwright.workbench.jobs import Cancelled
from tickwright.workbench.session import free_path

if TYPE_CHECKING:
    from tickwright.workbench.page import Page

MOST_CARDS = 48
CARD_SECONDS = 20
ORDERS = {"latest": "latest", "hold": "by hold", "size": "by size"}
OUTPUTS = {"any": "any output", "lamp": "a lit lamp"}
Key = tuple[str, float, int]  # a file's name, its time of change, its bytes


class FilesPanel:
    """The folder's plans and what can be done with them."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.session = page.session
        self.cards: dict[Key, Card] = {}
        self.urls: dict[Key, tuple[str, ...]] = {}
        self.order = "latest"
        self._task: asyncio.Task[None] | None = None
        with (
            ui.element("section").classes("card wish").props('aria-label="Wish"'),
            ui.element("div").classes("wish-line"),
        ):
            ui.label("I need")
            self.seconds = field("Time, such as 12 s").mark("need-hold")
            ui.label("of")
            self.output = choice("Output", OUTPUTS, "lamp")
            ui.label("after one press of a")
            self.trigger = choice("Trigger", list(TRIGGERS), "short-button")
            ui.element("div").classes("spring")
            button("Show me designs", self._wish, kind="main")
        with ui.element("div").classes("shelf-head"):
            with ui.element("div").classes("shelf-title"):
                heading("Your plans")
                self.where = ui.label("").classes("hint code")
            ui.element("div").classes("spring")
            Segments("Order of the plans", ORDERS, "latest", self._sort)
            self.sought = field("Find a plan or a part").classes("narrow").mark("find-plan")
            self.sought.on_value_change(lambda _: self._lay_cards())
        self.box = ui.element("div").classes("cards shelf-cards")
        with ui.element("div").classes("shelf-head"):
            heading("A new plan")
            self.name = field("Name of a new plan").classes("narrow").mark("new-name")
            button("Begin a new plan", lambda: self._new(self.name.value), kind="main")
            ui.label("A plan file can also be dropped anywhere on this page.").classes("hint")
        with ui.element("div").classes("shelf-head"):
            heading("Examples")
            ui.label("Opened as a copy in this folder.").classes("hint")
        self.examples = ui.element("div").classes("card")
        self._list_examples()

    def show(self) -> None:
        """List what is there now."""
        self.where.set_text(f"{len(self.session.folder.plans())} in {self.session.folder.root}")
        self.name.set_value(free_path(self.session.folder).name)
        self._lay_cards()
        if self._task is None or self._task.done():
            self._task = background_tasks.create(self._fill(), name="shelf")

    # --- cards -----------------------------------------------------------------------------------------------------

    def _lay_cards(self) -> None:
        plans = sorted(self.session.folder.plans(), key=self._place)
        sought = (self.sought.value or "").strip().lower()
        self.box.clear()
        with self.box:
            shown = [plan for plan in plans if self._fits(plan, sought)]
            for plan in shown[:MOST_CARDS]:
                self._card(plan)
            if len(shown) > MOST_CARDS:
                ui.label(f"and {len(shown) - MOST_CARDS} more: find them by their name").classes("hint")
            if not plans:
                with ui.element("div").classes("card empty-card"):
                    heading("Nothing is here yet", 3)
                    ui.label("Say what you need, begin a new plan, or open an example below.")
            elif not shown:
                ui.label(f"No plan here has “{sought}” in its name or title.").classes("hint")

    def _fits(self, plan: Listed, sought: str) -> bool:
        card = self.cards.get(_key(plan))
        return not sought or sought in f"{plan.name} {card.title if card else ''} {card.ports if card else ''}".lower()

    def _place(self, plan: Listed) -> tuple[float, str]:
        card = self.cards.get(_key(plan))
        if self.order == "hold":
            return (card.hold_steps or 0.0) if card is not None else float("inf"), plan.name
        if self.order == "size":
            return float(card.parts) if card is not None else float("inf"), plan.name
        return -plan.changed, plan.name

    def _sort(self, order: str) -> None:
        self.order = order
        self._lay_cards()

    def _card(self, plan: Listed) -> None:
        card = self.cards.get(_key(plan))
        at = datetime.datetime.fromtimestamp(plan.changed, tz=datetime.UTC).astimezone()
        with ui.element("article").classes("card plan-card").props(f'aria-label="{plan.name}"'):
            if card is None:
                with ui.element("div").classes("card-picture"):
                    ui.label("being run and drawn …").classes("hint")
            elif card.pictures:
                show_pictures(self.urls[_key(plan)], f"{plan.name}, {card.view}")
            with ui.element("h3"):
                ui.label(card.title if card is not None else plan.name)
            if card is not None and card.trouble:
                ui.label(card.trouble).classes("bad")
            elif card is not None:
                show_sentence(card)
                box = f" in {' × '.join(map(str, card.box))}" if card.box else ""
                ui.label(f"{card.parts:,} {'part' if card.parts == 1 else 'parts'}{box}").classes("hint")
                if card.ports:
                    ui.label(f"a module, its ports: {card.ports}").classes("hint")
            with ui.element("div").classes("card-foot"):
                ui.label(plan.name).classes("hint")
                ui.label(f"{at:%Y-%m-%d %H:%M}").classes("hint")
                if card is not None and card.parts and not card.trouble:
                    lay = button("Lay", partial(self._lay, plan.name), "Lay it as a module in the open plan", "small")
                    lay.mark(f"lay-{plan.name}").props["aria-label"] = f"Lay {plan.name} as a module in the open plan"
                made = button("Open", partial(self.open_file, plan.name), kind="small")
                made.mark(f"open-{plan.name}").props["aria-label"] = f"Open {plan.name}"

    async def _fill(self) -> None:
        """Find out what the cards show, one plan after another, the latest first."""
        for plan in sorted(self.session.folder.plans(), key=lambda one: -one.changed)[:MOST_CARDS]:
            key = _key(plan)
            if key in self.cards:
                continue
            try:
                path = str(self.session.folder.place(plan.name, ".toml"))
                card = await self.session.worker("shelf").do("shelf", path, most_seconds=CARD_SECONDS)
            except Cancelled:
                card = Card(plan.name, trouble="It runs too long to be shown here: open it.")
            except (TickwrightError, RuntimeError) as error:
                card = Card(plan.name, trouble=str(error))
            self.cards[key] = card
            self.urls[key] = tuple(f"/bench/kept/{self.session.keep(data, 'image/svg+xml')}" for data in card.pictures)
            if self.page.tab == "shelf":
                self._lay_cards()

    # --- what is done ----------------------------------------------------------------------------------------------

    def _wish(self) -> None:
        choose = self.page.designs().choose
        fields = choose.form.fields
        fields["hold_steps"].set_value(self.seconds.value or "")
        fields["output"].set_value(self.output.value)
        fields["trigger"].set_value(self.trigger.value)
        self.page.show_room("designs")
        self.page.designs().inner.show("choose")
        attempt(choose.job.run)

    def _list_examples(self) -> None:
        with self.examples, table_of(("Example", "Title", "")) as row:
            for path in sorted(examples_folder().glob("*.toml")):
                example = load(path)
                with row(path.stem, example.title):
                    made = button("Open a copy", partial(open_plan, self.page, path.stem, example), kind="small")
                    made.mark(f"example-{path.stem}").props["aria-label"] = f"Open a copy of {path.stem}"

    def _lay(self, name: str) -> None:
        path = self.session.folder.place(name, ".toml")
        beside = self.session.document.path.parent
        if not path.is_relative_to(beside):
            raise UsageError(f"{name} does not lie in the folder of the open plan: a module lies beside its plan.")
        self.page.hold_module(path.relative_to(beside).as_posix())

    def open_file(self, name: str) -> None:
        """Open a plan of the folder."""
        self.session.switch(self.session.folder.place(name, ".toml"))
        self.page.show_room("bench")

    def _new(self, name: str) -> None:
        path = self.session.folder.place((name or "").strip(), ".toml")
        self.session.switch(path)
        self.page.show_room("bench")


def _key(plan: Listed) -> Key:
    return plan.name, plan.changed, plan.size


def save_document(page: Page) -> None:
    """Save the plan; if its file was changed outside, ask what to keep."""
    session = page.session
    try:
        session.document.save()
    except ChangedOutside as error:
        _ask_which(page, str(error))
        return
    session.tell("file")
    say(f"Saved {session.document.path.name}.")


def _ask_which(page: Page, message: str) -> None:
    session = page.session
    with ui.dialog() as dialog, ui.card():
        heading("The file was changed outside")
        ui.label(message)

        def overwrite() -> None:
            session.document.save(overwrite=True)
            session.tell("file")
            dialog.close()

        def take() -> None:
            session.document.take_file()
            session.tell("plan")
            dialog.close()
            say("The file's plan was taken; undo brings yours back.")

        def other() -> None:
            session.open_copy(session.document.path.stem, session.document.plan)
            dialog.close()
            say(f"Saved as {session.document.path.name}.")

        with ui.element("div").classes("row-line"):
            button("Overwrite the file with mine", overwrite, kind="danger")
            button("Take the file's", take)
            button("Save mine under another name", other, kind="main")
            button("Cancel", dialog.close)
    dialog.on("hide", dialog.delete)
    attempt(dialog.open)
