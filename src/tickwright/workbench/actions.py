"""The edits that the layer view asks for, each one undoable step of the document. Nothing here knows of pages."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import msgspec

from tickwright import Plan
from tickwright.errors import UsageError
from tickwright.kinds import PARTS, Part, parse_part, part_text
from tickwright.plan import Use, lay
from tickwright.space import Cell
from tickwright.workbench import laying, modules
from tickwright.workbench.document import Box
from tickwright.workbench.session import Session

MOST_CELLS = 20_000


class Asked(msgspec.Struct, frozen=True):
    """An edit as a page sends it: what, at the cursor's cell, in the selected box, and what it needs besides."""

    op: str
    cell: Cell
    box: tuple[Cell, Cell] | None = None
    cells: list[Cell] | None = None
    part: str | None = None
    by: Cell | None = None
    value: str | None = None


class Outcome(NamedTuple):
    """What a page has to do after an edit: select another box, say something."""

    box: Box | None = None
    message: str = ""


def perform(session: Session, data: Mapping[str, Any]) -> Outcome:
    """Do what a page asks. Raises TickwrightError for what cannot be done, nothing changed."""
    try:
        asked = msgspec.convert(dict(data), Asked)
    except msgspec.ValidationError as error:
        raise UsageError(f"The page asked for an edit that cannot be read: {error}.") from None
    box = laying.box_of(*asked.box) if asked.box else Box(asked.cell, asked.cell)
    if asked.cells and len(asked.cells) > MOST_CELLS:
        raise UsageError(f"{len(asked.cells):,} cells at once are too many: the most is {MOST_CELLS:,}.")
    action = ACTIONS.get(asked.op)
    if action is None:
        raise UsageError(f'There is no edit "{asked.op[:40]}".')
    return action(session, asked, box) or Outcome()


def _place(session: Session, asked: Asked, _: Box) -> None:
    part = parse_part(asked.part or part_text(session.tool))
    cells = asked.cells or [asked.cell]
    session.change(f"place {part.kind}", lambda plan: laying.fill(plan, cells, part))


def _fill(session: Session, asked: Asked, box: Box) -> None:
    part = parse_part(asked.part or part_text(session.tool))
    sides = [range(low, high + 1) for low, high in zip(box.low, box.high, strict=True)]
    if len(sides[0]) * len(sides[1]) * len(sides[2]) > MOST_CELLS:
        raise UsageError(f"That box has over {MOST_CELLS:,} cells: select a smaller one.")
    cells = [(x, y, z) for z in sides[2] for y in sides[1] for x in sides[0]]
    session.change(f"fill with {part.kind}", lambda plan: laying.fill(plan, cells, part))


def _erase(session: Session, asked: Asked, box: Box) -> None:
    use = session.module_at(asked.cell)
    if asked.box is None and asked.cells is None and use is not None:
        session.change(f"take out {use.name}", lambda plan: modules.with_use(plan, use.name, None))
        return

    def edit(plan: Plan) -> Plan:
        return laying.erase(plan, box) if asked.cells is None else laying.erase_cells(plan, asked.cells)

    session.change("erase", edit)


def _change_module(session: Session, use: Use, label: str, other: Use) -> Outcome:
    session.change(f"{label} {use.name}", lambda plan: modules.with_use(plan, use.name, other))
    return Outcome()


def _turn(by: int) -> Callable[[Session, Asked, Box], Outcome]:
    def turn(session: Session, asked: Asked, box: Box) -> Outcome:
        use = session.module_at(asked.cell)
        if asked.box is None and use is not None:
            return _change_module(session, use, "turn", modules.quarter_turned(use, by))
        if asked.box is None:
            _turn_part(session, asked.cell, by)
            return Outcome()
        session.change("turn", lambda plan: laying.turn(plan, box, by))
        (x, y, z), wide, deep = box.low, box.high[0] - box.low[0], box.high[1] - box.low[1]
        return Outcome(Box(box.low, (x + deep, y + wide, z + box.high[2] - z)))

    return turn


def _turn_part(session: Session, cell: Cell, by: int) -> None:
    """Turn the part in the cell through all directions that its kind takes; in an empty cell the chosen part."""
    here = session.document.plan.cells.get(cell)
    if here is None and session.module is not None:
        session.module = session.module._replace(turn=(session.module.turn + 90 * by) % 360)
        session.tell("tool")
        return
    part = here if here is not None else session.tool
    facing = laying.next_direction(part.kind, part.facing, by)
    if facing is None:
        return
    turned = part._replace(facing=facing)
    if here is not None:
        session.change("turn", lambda plan: lay(plan, {cell: turned}))
    else:
        session.tool = turned
        session.tell("tool")


def _delay(session: Session, asked: Asked, box: Box) -> None:
    """Set the delay of the repeaters in the box; in an empty cell that of the chosen part."""
    if asked.value not in ("1", "2", "3", "4"):
        raise UsageError("A delay is 1 to 4 ticks.")
    _set_all(session, asked, box, "delay", lambda _: int(asked.value or 1))


def _mode(session: Session, asked: Asked, box: Box) -> None:
    """Give the comparators in the box their other mode; in an empty cell the chosen part."""
    others = {"threshold": "difference", "difference": "threshold"}
    _set_all(session, asked, box, "mode", lambda part: others[part.mode])


def _set_all(session: Session, asked: Asked, box: Box, name: str, value: Callable[[Part], Any]) -> None:
    cells = session.document.plan.cells

    def changed(part: Part) -> Part:
        return part._replace(**{name: value(part)})

    there = [cell for cell in cells if laying.inside(box, cell) and _takes(cells[cell], name)]
    if there:
        session.change(name, lambda plan: lay(plan, {cell: changed(plan.cells[cell]) for cell in there}))
    elif asked.cell not in cells and _takes(session.tool, name):
        session.tool = changed(session.tool)
        session.tell("tool")


def _takes(part: Part, name: str) -> bool:
    return any(argument.name == name for argument in PARTS[part.kind].arguments)


def _choose_part(session: Session, asked: Asked, _: Box) -> None:
    """Choose the first of some kinds, or the one after the chosen part if that is among them."""
    kinds = [kind for kind in (asked.value or "").split("|") if kind in PARTS]
    if not kinds:
        raise UsageError("There is no such part.")
    now = session.tool.kind
    choose_kind(session, kinds[(kinds.index(now) + 1) % len(kinds)] if now in kinds else kinds[0])


def _mirror(axis: str) -> Callable[[Session, Asked, Box], None]:
    def mirror(session: Session, asked: Asked, box: Box) -> None:
        use = session.module_at(asked.cell)
        if asked.box is None and use is not None:
            _change_module(session, use, "mirror", modules.flipped(use, axis))
        elif asked.box is None and session.module is not None and asked.cell not in session.document.plan.cells:
            turn = session.module.turn if axis == "x" else session.module.turn + 180
            session.module = session.module._replace(mirror=not session.module.mirror, turn=-turn % 360)
            session.tell("tool")
        else:
            session.change("mirror", lambda plan: laying.flip(plan, box, axis))

    return mirror


def _move(session: Session, asked: Asked, box: Box) -> Outcome:
    x, y, z = asked.by or (0, 0, 0)
    use = session.module_at(asked.cell)
    if asked.box is None and use is not None:
        goal = modules.moved(use, (x, y, z))
        if min(modules.box_of(goal).low) < 0:
            raise UsageError("That would leave the grid, which begins at (0, 0, 0): make room there first.")
        _change_module(session, use, "move", goal)
    else:
        session.change("move", lambda plan: laying.shift(plan, box, (x, y, z)))
    low, high = ((corner[0] + x, corner[1] + y, corner[2] + z) for corner in box)
    return Outcome(Box(low, high))


def _copy(session: Session, _: Asked, box: Box) -> Outcome:
    session.clip = laying.lift(session.document.plan, box)
    return Outcome(box, f"Copied {_parts(len(session.clip.parts))}.")


def _cut(session: Session, asked: Asked, box: Box) -> Outcome:
    said = _copy(session, asked, box)
    session.change("cut", lambda plan: laying.erase(plan, box))
    return said._replace(message=said.message.replace("Copied", "Cut"))


def _lay_module(session: Session, asked: Asked, _: Box) -> Outcome:
    held = session.module
    if held is None:
        raise UsageError("No module is chosen: choose one first (A).")
    session.change(f"lay {held.plan}", lambda plan: modules.laid(plan, held, asked.cell))
    return Outcome()


def _open_module(session: Session, asked: Asked, _: Box) -> Outcome:
    if session.inside:
        raise UsageError(f"{session.inside} is open already: Shift + U goes back to the whole.")
    use = session.module_at(asked.cell)
    if use is None:
        raise UsageError("There is no module at this cell: A chooses one to lay.")
    return Outcome(message=session.open_module(use.name))


def _leave_module(session: Session, _: Asked, __: Box) -> Outcome:
    return Outcome(message="" if session.leave_module() else "No module is open.")


def _paste(session: Session, asked: Asked, _: Box) -> Outcome:
    clip = session.clip
    if clip is None:
        raise UsageError("Nothing has been copied yet: select parts and copy them first.")
    session.change("paste", lambda plan: laying.put(plan, clip, asked.cell))
    x, y, z = (start + length - 1 for start, length in zip(asked.cell, clip.size, strict=True))
    return Outcome(Box(asked.cell, (x, y, z)), f"Pasted {_parts(len(clip.parts))}.")


def _undo(session: Session, _: Asked, __: Box) -> Outcome:
    label = session.document.undo()
    session.tell("plan")
    return Outcome(message=f"Undone: {label}." if label else "Nothing is left to undo.")


def _redo(session: Session, _: Asked, __: Box) -> Outcome:
    label = session.document.redo()
    session.tell("plan")
    return Outcome(message=f"Done again: {label}." if label else "Nothing is left to do again.")


def _pick(session: Session, asked: Asked, _: Box) -> None:
    part = session.document.plan.cells.get(asked.cell)
    if part is not None:
        session.tool, session.module = part, None
        session.tell("tool")


def _other_part(by: int) -> Callable[[Session, Asked, Box], None]:
    def choose(session: Session, _: Asked, __: Box) -> None:
        kinds = list(PARTS)
        choose_kind(session, kinds[(kinds.index(session.tool.kind) + by) % len(kinds)])

    return choose


def choose_kind(session: Session, kind: str) -> None:
    """Choose the part to lay, facing as the one before if it can."""
    session.module = None
    directions = PARTS[kind].directions
    before = session.tool.facing
    facing = before if before in directions else PARTS[kind].default_direction or ("east" if directions else None)
    if PARTS[kind].direction is None:
        session.tool = parse_part(kind)
    else:
        session.tool = parse_part(f"{kind} {facing}" if PARTS[kind].direction == "" else kind)._replace(facing=facing)
    session.tell("tool")


def _parts(number: int) -> str:
    return "1 part" if number == 1 else f"{number:,} parts"


ACTIONS: dict[str, Callable[[Session, Asked, Box], Outcome | None]] = {
    "place": _place,
    "fill": _fill,
    "erase": _erase,
    "turn": _turn(1),
    "turn-back": _turn(-1),
    "mirror-x": _mirror("x"),
    "mirror-y": _mirror("y"),
    "move": _move,
    "copy": _copy,
    "cut": _cut,
    "paste": _paste,
    "undo": _undo,
    "redo": _redo,
    "pick": _pick,
    "part-before": _other_part(-1),
    "part-after": _other_part(1),
    "part": _choose_part,
    "delay": _delay,
    "mode": _mode,
    "lay-module": _lay_module,
    "open-module": _open_module,
    "leave-module": _leave_module,
}
