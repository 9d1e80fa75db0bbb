"""Files: the plans of the opened folder, examples, new plans, and saving."""

from __future__ import annotations

import datetime
from functools import partial
from typing import TYPE_CHECKING

from nicegui import ui

from tickwright.workbench.document import ChangedOutside
from tickwright.workbench.elements import attempt, button, field, heading, say, section
from tickwright.workbench.session import free_path

if TYPE_CHECKING:
    from tickwright.workbench.page import Page


class FilesPanel:
    """The folder's plans and what can be done with them."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.box = ui.element("div").classes("stack")

    def show(self) -> None:
        """List what is there now."""
        session = self.page.session
        self.box.clear()
        with self.box:
            with section(f"Plans in {session.folder.root}"), ui.element("table"):
                with ui.element("tr"):
                    for title in ("Plan", "Size", "Changed", ""):
                        with ui.element("th"):
                            ui.label(title)
                for plan in session.folder.plans():
                    with ui.element("tr"):
                        with ui.element("td"):
                            ui.label(plan.name).classes("code")
                        with ui.element("td").classes("number"):
                            ui.label(f"{plan.size:,} bytes")
                        with ui.element("td"):
                            at = datetime.datetime.fromtimestamp(plan.changed, tz=datetime.UTC).astimezone()
                            ui.label(f"{at:%Y-%m-%d %H:%M}")
                        with ui.element("td"):
                            made = button(
                                "Open", partial(self._open, plan.name), kind="small", name=f"Open {plan.name}"
                            )
                            made.mark(f"open-{plan.name}")
            with section("New plan"), ui.element("div").classes("row-line"):
                name = field("File name", free_path(session.folder).name)
                button("Begin", lambda: self._new(name.value), kind="main")

    def _open(self, name: str) -> None:
        session = self.page.session
        session.switch(session.folder.place(name, ".toml"))
        self.page.show_tab("lay")

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
            path = free_path(session.folder, session.document.path.stem)
            copy = session.document.copy_to(path)
            session.document.close()
            session.document = copy
            session.tell("document")
            dialog.close()
            say(f"Saved as {path.name}.")

        with ui.element("div").classes("row-line"):
            button("Overwrite the file with mine", overwrite, kind="danger")
            button("Take the file's", take)
            button("Save mine under another name", other, kind="main")
            button("Cancel", dialog.close)
    dialog.on("hide", dialog.delete)
    attempt(dialog.open)
