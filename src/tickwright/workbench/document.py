"""The document: one plan as it is being worked on, with its history, its selection and its file.

Nothing here knows of pages. Every change is in the journal before the call returns, or `not_kept` says why it is not;
then `keep` tries again. The plan's own file is written only by `save`, and never over something that this document has
not seen.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from tickwright import Plan, TickwrightError, load, loads
from tickwright.errors import PlanError, UsageError
from tickwright.plan import SHELF, dumps, save
from tickwright.space import Cell
from tickwright.workbench.changes import Change, change_between
from tickwright.workbench.folder import digest_of
from tickwright.workbench.journal import Journal, Line

NEW_SIZE: Cell = (24, 12, 2)


class Box(NamedTuple):
    """A box of cells from its lowest to its highest corner, both inside."""

    low: Cell
    high: Cell


class ChangedOutside(TickwrightError):
    """The plan's file is not as this document last read or wrote it; saving would lose what another program wrote."""


class Document:
    """A plan that is open. `notice` is what its user should be told of how it was opened, "" for nothing."""

    def __init__(self, plan: Plan, path: Path, journal: Journal, digest: str | None) -> None:
        self.plan = plan
        self.path = path
        self.selection: Box | None = None
        self.notice = ""
        self._journal = journal
        self._journal_begun = False
        self._digest = digest
        self._changes: list[Change] = []
        self._at = 0  # so many of the changes are in the plan
        self._saved_at = 0 if digest is not None else -1  # how many were when it was saved; -1: never, or lost
        self._modules: dict[Path, str] = {}  # what the files of modules hold, as far as this document knows
        self._learn_modules()

    # --- opening ---------------------------------------------------------------------------------------------------

    @classmethod
    def open(cls, path: Path) -> Document:
        """Open the plan file at `path`, with the work on it that was not saved when the last workbench ended.

        A path without a file and without a journal gives a new, empty plan. Raises TickwrightError if the file cannot
        be read as a plan and no journal has it.
        """
        journal = Journal(path)
        journal.lock()
        try:
            return cls._opened(path, journal)
        except BaseException:
            journal.close()
            raise

    @classmethod
    def _opened(cls, path: Path, journal: Journal) -> Document:
        digest = digest_of(path)
        trouble = ""
        try:
            kept = journal.read()
        except UsageError as error:
            kept, trouble = None, str(error)
        if kept is not None:
            head, lines = kept
            try:
                document = cls(loads(head.text, path, checked=False), path, journal, head.digest)
                document._journal_begun = True
                document._replay(lines)
            except PlanError as error:  # a module is another one now
                trouble = str(journal.put_aside(f"cannot be played again ({error})"))
            else:
                if document.unsaved or document._digest == digest:
                    if document.unsaved and document._changes:
                        document.notice = "The work that was not saved has been brought back."
                    return document
                journal.drop()
        if path.exists():
            document = cls(load(path, checked=False), path, journal, digest)
        else:
            blank = Plan({}, title=path.stem.replace("-", " "), size=NEW_SIZE)
            document = cls(loads(dumps(blank), path, checked=False), path, journal, None)
        document.notice = trouble
        return document

    def _replay(self, lines: list[Line]) -> None:
        for line in lines:
            if line.change is not None:
                self._do(line.change)
            elif line.undo or line.redo:
                self._step(line.redo - line.undo)
            elif line.saved is not None:
                self._digest, self._saved_at = line.saved, self._at
                self._modules |= self._module_texts()

    def close(self) -> None:
        """Let the file go. The journal stays if there is something in it that is not saved.

        What is not kept by then is lost: see `not_kept` before.
        """
        if not self.unsaved or not self._changes:
            self._journal.drop()
        self._journal.close()

    # --- changing --------------------------------------------------------------------------------------------------

    def change(self, label: str, edit: Callable[[Plan], Plan]) -> bool:
        """Make one edit, undone as one; whether it changed anything. If `edit` raises, nothing is done."""
        change = change_between(label, self.plan, edit(self.plan))
        if change.empty:
            return False
        self._write(Line(change=change))
        self._do(change)
        return True

    def undo(self) -> str | None:
        """Take the last change back; its label, or None if there is none left."""
        if self._at == 0:
            return None
        self._write(Line(undo=1))
        self._step(-1)
        return self._changes[self._at].label

    def redo(self) -> str | None:
        """Make the change that was taken back last again; its label, or None if there is none."""
        if self._at == len(self._changes):
            return None
        self._write(Line(redo=1))
        self._step(1)
        return self._changes[self._at - 1].label

    @property
    def undo_label(self) -> str | None:
        """The label of the change that `undo` would take back."""
        return self._changes[self._at - 1].label if self._at else None

    @property
    def redo_label(self) -> str | None:
        """The label of the change that `redo` would make again."""
        return self._changes[self._at].label if self._at < len(self._changes) else None

    @property
    def unsaved(self) -> bool:
        """Whether the plan holds something that its file does not."""
        return self._at != self._saved_at

    def _do(self, change: Change) -> None:
        if self._saved_at > self._at:
            self._saved_at = -1
        del self._changes[self._at :]
        self._changes.append(change)
        self._at += 1
        self.plan = change.on(self.plan)
        self._learn_modules()

    def _step(self, by: int) -> None:
        change = self._changes[self._at - 1].reversed() if by < 0 else self._changes[self._at]
        self._at += by
        self.plan = change.on(self.plan)

    @property
    def not_kept(self) -> str:
        """Why the last changes are neither in the journal nor in the plan's file; "" if they are."""
        return self._journal.trouble if self.unsaved else ""

    def keep(self) -> bool:
        """Try again to bring to the disk what is not there yet; whether all is."""
        return self._journal.keep() or not self.unsaved

    def _write(self, line: Line) -> None:
        if not self._journal_begun:
            self._journal.begin(self.plan.source or dumps(self.plan), self._digest)
            self._journal_begun = True
        self._journal.write(line)

    # --- the file --------------------------------------------------------------------------------------------------

    def outside(self) -> str:
        """What happened to the file since this document read or wrote it: "same", "changed" or "gone"."""
        now = digest_of(self.path)
        if now == self._digest:
            return "same"
        return "changed" if self.path.exists() else "gone"

    def save(self, overwrite: bool = False) -> None:
        """Write the plan to its file, and the modules that were edited in it to theirs, first.

        Raises ChangedOutside if a file is not as this document knows it and `overwrite` is not given, PlanError if
        one cannot be written.
        """
        edited = self.edited_modules()
        changed = [self.path] if self.outside() == "changed" else []
        changed += [path for path in edited if _text_of(path) != self._modules.get(path)]
        if changed and not overwrite:
            raise ChangedOutside(
                f"{changed[0].name} was changed by another program since it was read here: overwrite it, take what it "
                "holds now, or save under another name."
            )
        for path, inside in edited.items():
            save(inside, path)
        self._modules |= self._module_texts()
        save(self.plan, self.path)
        self._digest = digest_of(self.path)
        self._write(Line(saved=self._digest or ""))
        self._saved_at = self._at

    def _module_texts(self) -> dict[Path, str]:
        """The text of each module of the folder as this plan has it."""
        return {
            Path(use.inside.path): dumps(use.inside)
            for use in self.plan.uses
            if use.inside.path and not Path(use.inside.path).is_relative_to(SHELF)
        }

    def _learn_modules(self) -> None:
        """Note what the file of each module held when it was first used."""
        for use in self.plan.uses:
            if use.inside.path and use.inside.source is not None:
                self._modules.setdefault(Path(use.inside.path), use.inside.source)

    def edited_modules(self) -> dict[Path, Plan]:
        """The modules whose plan is not that of their file, by the file."""
        plans = {Path(use.inside.path or ""): use.inside for use in self.plan.uses}
        return {path: plans[path] for path, text in self._module_texts().items() if text != self._modules.get(path)}

    def take_file(self) -> bool:
        """Make the plan what its file holds now, as one edit that can be undone."""
        digest = digest_of(self.path)
        theirs = load(self.path, checked=False)
        changed = self.change("read the file again", lambda _: theirs)
        self._modules = {}
        self._learn_modules()
        self._digest = digest
        self._write(Line(saved=digest or ""))
        self._saved_at = self._at
        return changed


def _text_of(path: Path) -> str | None:
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return None
