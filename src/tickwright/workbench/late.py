"""Rooms and side panels whose code is loaded when they are first shown, so that the first page is there sooner."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tickwright.workbench.ask_panel import AskPanel
    from tickwright.workbench.designs_room import DesignsRoom
    from tickwright.workbench.files_panel import FilesPanel
    from tickwright.workbench.judge_panel import JudgePanel
    from tickwright.workbench.page import Page
    from tickwright.workbench.publish_panel import PublishPanel


def designs_room(page: Page) -> DesignsRoom:
    """The room of designs."""
    from tickwright.workbench.designs_room import DesignsRoom

    return DesignsRoom(page)


def sheet_room(page: Page) -> PublishPanel:
    """The room of sheets."""
    from tickwright.workbench.publish_panel import PublishPanel

    return PublishPanel(page)


def shelf_room(page: Page) -> FilesPanel:
    """The room of the folder's plans."""
    from tickwright.workbench.files_panel import FilesPanel

    return FilesPanel(page)


def judge_panel(page: Page) -> JudgePanel:
    """The side panel of promises and proofs."""
    from tickwright.workbench.judge_panel import JudgePanel

    return JudgePanel(page)


def ask_panel(page: Page) -> AskPanel:
    """The side panel of questions."""
    from tickwright.workbench.ask_panel import AskPanel

    return AskPanel(page)


def save_document(page: Page) -> None:
    """Write the plan to its file, or ask what to do where somebody else changed it."""
    from tickwright.workbench.files_panel import save_document

    save_document(page)


def load_all() -> None:
    """Load all that code, in any thread."""
    import tickwright.workbench.ask_panel
    import tickwright.workbench.designs_room
    import tickwright.workbench.files_panel
    import tickwright.workbench.judge_panel
    import tickwright.workbench.publish_panel  # noqa: F401
