"""The session: the folder and the document that are open, and what all pages of the workbench share."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from tickwright import Plan, RuleSet, TickwrightError
from tickwright.errors import UsageError
from tickwright.kinds import Part, parse_part
from tickwright.plan import Use, save, without_uses
from tickwright.rules import confine_rules
from tickwright.space import Cell
from tickwright.workbench import modules
from tickwright.workbench.cells import rules_of
from tickwright.workbench.document import Document
from tickwright.workbench.folder import Folder
from tickwright.workbench.jobs import Worker
from tickwright.workbench.journal import journals_of
from tickwright.workbench.judging import Judging
from tickwright.workbench.laying import Clip

Listener = Callable[[str], None]
NEW_NAME = "new-plan"
MOST_KEPT = 120
PATIENT = ("long", "findings", "tries", "shelf", "reasons")  # workers that let those go first which answer an edit
PARENTS = ("long",)  # workers whose jobs start processes of their own
WARM_AFTER_SECONDS = 1.5


class Session:
    """What is open. Pages listen for topics.

    "plan": it changed; "document": another one is open; "file": it was saved; "tool": another part is chosen; "length":
    another length of trigger is tried; "judged": more is known.
    """

    def __init__(self, folder: Folder, document: Document) -> None:
        self.folder = folder
        self.document = document
        self.tool: Part = parse_part("block")
        self.module: modules.Held | None = None  # in hand instead of the tool
        self.inside = ""  # the name of the module that is edited in place
        self.clip: Clip | None = None
        self.script: list[str] = []
        self.compared: dict[str, Plan] = {}
        self.room = "bench"  # shown last, so that a page that is loaded anew shows it again
        self.length_steps: int | None = None  # of a button in the triggers' place
        self.kept: dict[int, tuple[bytes, str]] = {}
        self._keeping = 0
        self._workers: dict[str, Worker] = {}
        self.judging = Judging(self, lambda: self.tell("judged"))
        self.listeners: list[Listener] = []

    @classmethod
    def open(cls, target: Path) -> Session:
        """Open a plan file with its folder, or a folder with the plan in it that was worked on last and not saved.

        Raises TickwrightError if the file is no plan or is open in another workbench.
        """
        if target.is_dir():
            folder = Folder(target)
            kept = journals_of(folder.root)
            path = kept[0] if kept else free_path(folder)
        else:
            path = target.resolve()
            folder = Folder(path.parent)
        confine_rules(folder.root)
        return cls(folder, Document.open(path))

    def tell(self, topic: str) -> None:
        """Let all pages know."""
        if self.inside and all(use.name != self.inside for use in self.document.plan.uses):
            self.inside = ""  # an edit was taken back
        if self.listeners and topic in ("plan", "document", "length"):
            self.judging.begin()
        for listener in list(self.listeners):
            listener(topic)

    def rules(self) -> RuleSet:
        """The rule set of the plan; the standard one if it cannot be read."""
        return rules_of(self.document)[0]

    def worker(self, name: str) -> Worker:
        """The worker of that name."""
        return self._workers.setdefault(name, Worker(name, name in PATIENT, self.folder.root, name in PARENTS))

    async def warm(self) -> None:
        """Start the workers that answer edits and presses, once the first page has had time to load."""
        await asyncio.sleep(WARM_AFTER_SECONDS)
        for name in ("judge", "findings", "watch"):
            await self.worker(name).start()

    def close(self) -> str:
        """End all workers and let the document go; what is not saved stays in its journal. What is lost, "" if nothing.

        Work that the journal has no room for is written to a file of its own beside the plan, if there is room there.
        """
        self.judging.close()
        for worker in self._workers.values():
            worker.stop()
        lost = "" if self.document.keep() else self._rescue()
        self.document.close()
        confine_rules(None)
        return lost

    def _rescue(self) -> str:
        document = self.document
        where = free_path(self.folder, f"{document.path.stem}-rescued")
        try:
            save(document.plan, where)
        except TickwrightError:
            return f"The last changes of {document.path} could not be kept ({document.not_kept}) and are lost."
        return f"The last changes of {document.path} could not be kept ({document.not_kept}): they are in {where}."

    def keep(self, data: bytes, media_type: str) -> int:
        """Keep bytes for the page to fetch, under a number; the oldest are let go."""
        self._keeping += 1
        self.kept[self._keeping] = (data, media_type)
        self.kept.pop(self._keeping - MOST_KEPT, None)
        return self._keeping

    def change(self, label: str, edit: Callable[[Plan], Plan]) -> bool:
        """Make one edit and tell the pages; whether it changed anything. It is done in the module that is open."""
        changed = self.document.change(label, modules.in_place(self.inside, edit) if self.inside else edit)
        if changed:
            self.tell("plan")
        return changed

    def open_copy(self, name: str, plan: Plan) -> None:
        """Write a plan to a new file of the folder, named like that, and open it."""
        path = free_path(self.folder, name)
        try:
            save(replace(plan, path=str(path)), path)
        except TickwrightError:
            if not plan.uses:
                raise
            save(replace(without_uses(plan), path=str(path), source=None), path)  # its modules as it has them now
        self.switch(path)

    # --- modules ---------------------------------------------------------------------------------------------------

    def module_at(self, cell: Cell) -> Use | None:
        """The module at a cell; None while one is edited, whose parts are then edited one by one."""
        return None if self.inside else modules.module_at(self.document.plan, cell)

    def hold_module(self, plan: str) -> None:
        """Take a module in hand, to be laid. Raises TickwrightError if it cannot lie in this plan."""
        if self.inside:
            raise UsageError(f"{self.inside} is being edited: go back to the whole to lay modules.")
        self.module = modules.take_in_hand(plan, self.document.path.parent, self.document.path)
        self.tell("tool")

    def open_module(self, name: str, alone: bool = False) -> str:
        """Open a module where it lies: from now on edits change its plan. What is to be said of it.

        A tile of the shelf is copied into the folder first; so is, if `alone`, a plan that lies in other places, too.
        """
        use = modules.use_named(self.document.plan, name)
        said = f"{use.name} is open: what you change goes to {use.plan}. Press Shift + U to go back to the whole."
        if alone or modules.is_tile(use):
            home = self.document.path.parent
            beside = home if modules.is_tile(use) else Path(use.inside.path or home / use.plan).parent
            path = free_path(Folder(beside), Path(use.plan.removeprefix(modules.TILE)).stem)
            save(use.inside, path)
            copied = path.relative_to(home.resolve()).as_posix()
            other = use._replace(plan=copied, inside=modules.take_in_hand(copied, home, self.document.path).inside)
            self.inside = ""
            self.document.change("open a copy", lambda plan: modules.with_use(plan, name, other))
            said = f"{name} is open: what you change goes to the copy {copied}."
        self.inside = name
        self.tell("plan")
        return said

    def leave_module(self) -> bool:
        """Go back to the whole; whether a module was open."""
        was, self.inside = self.inside, ""
        if was:
            self.tell("plan")
        return bool(was)

    def switch(self, path: Path) -> None:
        """Open another plan in place of this one, whose unsaved work stays in its journal.

        If it cannot be opened, or if unsaved work could not be kept, the one that is open stays so.
        """
        if path == self.document.path:
            return
        if not self.document.keep():
            raise UsageError(
                f"The last changes of {self.document.path.name} are not kept ({self.document.not_kept}): make room, or "
                "save the plan, before another one is opened."
            )
        other = Document.open(path)
        self.document.close()
        self.document = other
        self.script, self.length_steps = [], None
        self.inside, self.module = "", None
        self.tell("document")


def free_path(folder: Folder, stem: str = NEW_NAME) -> Path:
    """A path in the folder that no file has: "new-plan.toml", "new-plan-2.toml", ..."""
    number = 1
    while True:
        path = folder.root / (f"{stem}.toml" if number == 1 else f"{stem}-{number}.toml")
        if not path.exists():
            return path
        number += 1
