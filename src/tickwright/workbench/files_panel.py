"""Files: the plans of the opened folder, examples, new plans, files that are dropped, and saving."""

from __future__ import annotations

import datetime
from functools import partial
from typing import TYPE_CHECKING

from nicegui import ui

from tickwright import Plan, load
from tickwright.plan import examples_folder
from tickwright.workbench.document import ChangedOutside
from tickwright.workbench.elements import attempt, button, field, heading, say, section, table_of
from tickwright.workbench.folder import Listed
from tickwright.workbench.session import free_path

if TYPE_CHECKING:
    from tickwright.workbench.page import Page


class FilesPanel:
    """The folder's plans and what can be done with them."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.box = ui.element("div").classes("files")

    def show(self) -> None:
        """List what is there now."""
        session = self.page.session
        self.box.clear()
        with self.box:
            with section(f"Plans in {session.folder.root}", "A plan file can also be dropped anywhere on this page."):
                plans = session.folder.plans()
                if not plans:
                    ui.label("None yet: begin one, open an example, or save the one that is open.").classes("hint")
                else:
                    self._list(plans)
                with ui.element("div").classes("row-line"):
                    name = (
                        field("Name of a new plan", free_path(session.folder).name).classes("narrow").mark("new-name")
                    )
                    button("Begin a new plan", lambda: self._new(name.value), kind="main")
            with section("Examples", "Opened as a copy in this folder."), table_of(("Example", "Title", "")) as row:
                for path in sorted(examples_folder().glob("*.toml")):
                    example = load(path)
                    with row(path.stem, example.title):
                        made = button("Open a copy", partial(self.open_plan, path.stem, example), kind="small")
                        made.mark(f"example-{path.stem}").props["aria-label"] = f"Open a copy of {path.stem}"

    def _list(self, plans: list[Listed]) -> None:
        with table_of(("Plan", "Size", "Changed", "")) as row:
            for plan in plans:
                at = datetime.datetime.fromtimestamp(plan.changed, tz=datetime.UTC).astimezone()
                with row(plan.name, f"{plan.size:,} bytes", f"{at:%Y-%m-%d %H:%M}"):
                    made = button("Open", partial(self.open_file, plan.name), kind="small")
                    made.mark(f"open-{plan.name}").props["aria-label"] = f"Open {plan.name}"

    def open_file(self, name: str) -> None:
        """Open a plan of the folder."""
        session = self.page.session
        session.switch(session.folder.place(name, ".toml"))
        self.page.show_tab("lay")

    def open_plan(self, name: str, plan: Plan) -> None:
        """Write a plan to a new file of the folder and open it."""
        session = self.page.session
        session.open_copy(name, plan)
        self.page.show_tab("lay")
        say(f"Opened as {session.document.path.name}.")

    def _new(self, name: str) -> None:
        session = self.page.session
        path = session.folder.place((name or "").strip(), ".toml")
        session.switch(path)
        self.page.show_tab("lay")


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
