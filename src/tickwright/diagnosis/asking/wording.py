"""Questions and answers in words: as they are asked, drawn, answered and read."""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterable, Sequence
from string import ascii_letters

from tickwright.diagnosis.asking.questions import BEFORE, Behaviour, Question, same_row
from tickwright.diagnosis.asking.shown import Stage
from tickwright.diagnosis.asking.universe import Suspect
from tickwright.durations import duration_text, parse_duration, seconds_number
from tickwright.errors import DurationError, PartError, UsageError
from tickwright.kinds import Part, parse_part
from tickwright.plan.model import Plan
from tickwright.space import Cell, cell_text

YES, NO, BACK, SKIP = "yes", "no", "back", "don't know"
NONE, ALL, AS_PLANNED, NOTHING = "none", "all", "as planned", "nothing"
PLAIN = ("never on", "on all the time", "stays on", "stays off", "pulses for ever")
_CELL = re.compile(r"\(?(-?\d{1,5})\s*,\s*(-?\d{1,5})\s*,\s*(-?\d{1,5})\)?")
_EXTRA = re.compile(_CELL.pattern + r"[: ]+((?:[a-z][a-z-]*(?:=\w+)?[ ,;]*)+)")
_TIME = re.compile(r"\d+(?:\.\d+)?\s*(?:ms|s|min|h|ticks?|steps?)\b")
_PULSES = re.compile(r"(\d{1,6}) pulses?")


def question_text(stage: Stage, question: Question, suspects: Sequence[Suspect]) -> str:
    """The question as it is asked.

    A picture's cells are named in it, with the letter that may stand for each in an answer.
    """
    plan = stage.plan
    if question.kind in ("lit", "level", "times"):
        script = stage.scripts[question.script]
        done = script.text(plan) if script.acts[0][1] else "Build it anew, or load it anew"
    if question.kind == "lit":
        named = ", ".join(
            f"{letter} {cell_text(cell)} {plan.cells[cell].kind}"
            for letter, cell in zip(letters(len(question.cells)), question.cells, strict=True)
        )
        when = (
            "Before you do anything, with all at rest:"
            if question.at_steps == BEFORE
            else f"Let all come to rest. {done}, and look {seconds_number(question.at_steps)} s later:"
        )
        return f"{when} which of these are lit? {named}"
    if question.kind == "times":
        return f'Let all come to rest. {done}: what does "{question.output}" do?'
    if question.kind == "level":
        where = f"the {plan.cells[question.cells[0]].kind} at {question.cells[0]}"
        later = seconds_number(question.at_steps)
        return f"Let all come to rest. {done}, and look {later} s later: what level has {where}?"
    if question.kind == "stands":
        return f"Look at {question.cells[0]}: what stands there?"
    if question.kind == "row":
        return _row_text(plan, question)
    if question.kind == "extra":
        return (
            "Walk round the build, over and under it: does anything stand where the plan has nothing? Where, and what?"
        )
    if question.kind == "world":
        return f"Is it so that {suspects[question.script].mistakes[0].text}?"
    return "Mend this, press again: does it now do what the plan says?"


def _row_text(plan: Plan, question: Question) -> str:
    x, y, z = question.cells[0]
    axis = 1 if question.output.startswith("column") else 0
    which = f"the column x = {x} of layer {z}, from north to south"
    if not axis:
        which = f"the row y = {y} of layer {z}, from west to east"
    if question.output.endswith("part"):
        which += f", only from {'xy'[axis]} = {question.cells[0][axis]} to {question.cells[-1][axis]}"
    parts = ", ".join(f"{cell[axis]}: {plan.cells[cell]}" for cell in question.cells if cell in plan.cells)
    asked = f"Does it look so, and nothing else in it? {parts}." if parts else "Is it empty?"
    return f"Look along {which}. {asked} If not, name each cell that is otherwise, and what stands there."


def letters(number: int) -> list[str]:
    """A letter for each of so many cells.

    >>> letters(3)
    ['a', 'b', 'c']
    """
    return list(ascii_letters[:number])


def picture(plan: Plan, question: Question) -> list[str]:
    """The layers that hold the asked cells, each cell as its letter; "#" is any other part, "." nothing."""
    names = dict(zip(question.cells, letters(len(question.cells)), strict=True))
    lines: list[str] = []
    for z in sorted({cell[2] for cell in question.cells}):
        lines.append(f"layer {z} (north is above, x = 0 on the left)" if not lines else f"layer {z}")
        for y in range(plan.size[1]):
            row = ((x, y, z) for x in range(plan.size[0]))
            lines.append("  " + "".join(names.get(cell, "#" if cell in plan.cells else ".") for cell in row))
    return lines


def answer_text(stage: Stage, question: Question, key: Hashable) -> str:
    """An answer as it may be given."""
    if question.kind == "lit":
        assert isinstance(key, int)
        places = {cell: place for place, cell in enumerate(stage.cells)}
        lit = [cell_text(cell).strip("()").replace(" ", "") for cell in question.cells if key >> places[cell] & 1]
        return " ".join(lit) or NONE
    if question.kind == "times":
        return behaviour_text(key) if isinstance(key, Behaviour) else str(key)
    if question.kind == "stands":
        return str(key) if key is not None else NOTHING
    if question.kind == "level":
        return str(key)
    if isinstance(key, frozenset):
        return ", ".join(f"{x},{y},{z} {part or NOTHING}" for (x, y, z), part in sorted(key, key=lambda one: one[0]))
    if question.kind == "extra":
        return NO
    return NO if key is False else YES


def behaviour_text(seen: Behaviour) -> str:
    """What an output does, in words that `read_answer` takes.

    >>> behaviour_text(Behaviour("pulses", 86, 1)), behaviour_text(Behaviour("pulses", 40, 3))
    ('on for 4.3 s', '3 pulses, 2 s from the first on to the last off')
    """
    if seen.kind == "pulses":
        if seen.pulses == 1:
            return f"on for {duration_text(seen.hold_steps)}"
        return f"{seen.pulses} pulses, {duration_text(seen.hold_steps)} from the first on to the last off"
    if seen.kind == "goes off":
        return f"off for {duration_text(seen.hold_steps)}"
    return seen.kind


def read_answer(stage: Stage, question: Question, text: str) -> Hashable:
    """The answer that a text means.

    Raises UsageError, saying what may be answered, for one that means none.
    """
    said = " ".join(text.split())
    if question.kind == "lit":
        return _read_cells(stage, question, said)
    if question.kind == "times":
        return _read_behaviour(said)
    if question.kind == "stands":
        return _read_part(stage.plan, question.cells[0], said)
    if question.kind == "level":
        if said.isascii() and said.isdigit() and int(said) <= 15:
            return int(said)
        raise UsageError(f'"{text}" is no level: answer 0 to 15, or "{SKIP}".')
    if question.kind == "row" and _CELL.search(said):
        return _read_row(stage.plan, question, said)
    if question.kind == "extra" and said.lower() not in (NO, "n"):
        return _read_extra(stage.plan, said)
    if question.kind == "extra":
        return None
    if said.lower() in (YES, "y", NO, "n"):
        return said.lower().startswith("y")
    if question.kind == "row":
        such = f'"{cell_text(question.cells[0]).strip("()").replace(" ", "")} wire"'
        raise UsageError(f'"{text}" answers nothing here: say {YES}, {NO}, "{SKIP}", or what is otherwise, as {such}.')
    raise UsageError(f'"{text}" answers nothing here: say {YES}, {NO} or "{SKIP}".')


def _read_cells(stage: Stage, question: Question, said: str) -> int:
    places = {cell: place for place, cell in enumerate(stage.cells)}
    if said.lower() in (NONE, NOTHING):
        return 0
    if said.lower() == ALL:
        return sum(1 << places[cell] for cell in question.cells)
    names = dict(zip(letters(len(question.cells)), question.cells, strict=True))
    if said and all(letter in names for letter in said.replace(" ", "").replace(",", "")):
        lit: Iterable[Cell] = (names[letter] for letter in said if letter in names)
    else:
        found = _CELL.findall(said)
        if not found or _CELL.sub("", said).strip(" ,;"):
            raise UsageError(
                f'"{said}" names no cells: give the letters of those that are lit, such as "ab", or the cells, such as '
                f'"2,0,1 3,0,1", or "{NONE}", "{ALL}", "{SKIP}".'
            )
        lit = [(int(x), int(y), int(z)) for x, y, z in found]
    mask = 0
    for cell in lit:
        if cell not in question.cells:
            raise UsageError(f'{cell} is not among the cells that are asked about: name some of those, or "{NONE}".')
        mask |= 1 << places[cell]
    return mask


def _read_behaviour(said: str) -> Behaviour:
    low = said.lower()
    if low in PLAIN:
        return Behaviour(low)  # type: ignore[arg-type]
    pulses, time = _PULSES.search(low), _TIME.search(low)
    count = int(pulses[1]) if pulses else 0
    if low.startswith("off") and time:
        return Behaviour("goes off", parse_duration(time[0]), count)
    if time or count:
        return Behaviour("pulses", _steps(time[0]) if time else 0, count)
    raise UsageError(
        f'"{said}" says nothing of an output: answer "on for 4.3 s", "3 pulses", "3 pulses, 2 s", "off for 2 s", '
        + ", ".join(f'"{word}"' for word in (*PLAIN, SKIP))
        + "."
    )


def _steps(text: str) -> int:
    """A time read off a stopwatch, to the nearest step."""
    try:
        return parse_duration(text)
    except DurationError:
        number, unit = re.fullmatch(r"([\d.]+)\s*(\w+)", text).groups()  # type: ignore[union-attr]
        return round(float(number) * parse_duration(f"1 {unit}")) if unit in ("s", "min", "h") else round(float(number))


def _read_row(plan: Plan, question: Question, said: str) -> Hashable:
    found = {}
    for match in _EXTRA.finditer(said):
        cell = (int(match[1]), int(match[2]), int(match[3]))
        if not same_row(cell, question):
            raise UsageError(f"{cell} is not in the row that is asked about: name cells of it, or say {NO}.")
        part = _read_part(plan, cell, match[4].strip(" ,;"))
        if part != plan.cells.get(cell):
            found[cell] = part
    if len(found) < len(_CELL.findall(said)):
        raise UsageError(f'"{said}" names no part that is otherwise: give each cell and what stands in it, or {NO}.')
    return frozenset(found.items())


def _read_extra(plan: Plan, said: str) -> Hashable:
    found = []
    for match in _EXTRA.finditer(said):
        cell = (int(match[1]), int(match[2]), int(match[3]))
        if cell in plan.cells:
            raise UsageError(f"At {cell} the plan has a {plan.cells[cell].kind}: name cells where it has nothing.")
        found.append((cell, _read_part(plan, cell, match[4].strip(" ,;"))))
    if not found:
        raise UsageError(f'"{said}" names no place: say "{NO}", "{SKIP}", or cell and part, such as "3,0,1 wire".')
    return frozenset(found)


def _read_part(plan: Plan, cell: Cell, said: str) -> Part | None:
    low = said.lower()
    if low in (AS_PLANNED, YES):
        return plan.cells.get(cell)
    if low in (NOTHING, NONE, "empty"):
        return None
    try:
        return parse_part(low)
    except PartError as error:
        raise UsageError(
            f'{error} Answer with a part, such as "wire", or "{NOTHING}", "{AS_PLANNED}", "{SKIP}".'
        ) from None
