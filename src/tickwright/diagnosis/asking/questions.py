"""Questions: what may be asked of a build, what each thought-of build would answer, and how much an answer tells."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterator, Mapping
from math import log2
from typing import Literal, NamedTuple

from tickwright.diagnosis.asking.shown import PRESS_STEP, Shown, Stage
from tickwright.diagnosis.asking.universe import Suspect
from tickwright.durations import STEPS_PER_SECOND
from tickwright.kinds import PARTS, Part
from tickwright.space import Cell, zyx

MISFIT = 0.03  # what an answer weighs for a build that would have answered otherwise
MISSEEN = MISFIT / 150  # a part is named that does not stand there: any other might have been named as well
PARTLY = 0.1  # somebody names a part of what is wrong in a row, and does not see the rest
ROW_SEEN = 0.6  # of what a look along a row could tell, so much counts: who built it has overlooked the mistake once
CLOCK_STEPS = 4  # a stopwatch in a hand is so far off at most
JITTER = (-4, -2, 0, 2, 4)
BEFORE = -1  # at_steps of a look before the first act
MOST_ASKED = 36  # cells of one picture
LONG_ROW = 6  # cells of a row that is asked about by halves, too
FOREVER_PULSES = 4
Asking = Literal["lit", "times", "level", "stands", "row", "extra", "world", "mended"]
EFFORT = {"lit": 1.0, "times": 0.9, "level": 0.8, "stands": 0.5, "row": 0.7, "extra": 0.8, "world": 0.6, "mended": 1.0}


class Question(NamedTuple):
    """One question: its `kind`, the `script` of the hand before it, when after its last act, which cells, what output.

    Kinds: "lit" (which of the cells are lit), "times" (what the output does), "level" (what a wire shows), "stands"
    (what stands in the cell), "row" (whether the row of those cells looks as planned, or what in it does not; its
    `output` may be "column", from north to south, "row part" or "column part"), "extra" (what stands where nothing
    belongs), "world" (whether suspect number `script` is right about the world), "mended" (whether it now does what the
    plan says).
    """

    kind: Asking
    script: int = -1
    at_steps: int = 0
    cells: tuple[Cell, ...] = ()
    output: str = ""


class Behaviour(NamedTuple):
    """What an output does under a script: `hold_steps` from its first edge to its last, and how many pulses."""

    kind: Literal["never on", "on all the time", "stays on", "pulses for ever", "pulses", "goes off", "stays off"]
    hold_steps: int = 0
    pulses: int = 0


class Asked:
    """What builds would answer. `suspects` and what they showed may grow; numbers stay."""

    def __init__(self, stage: Stage, suspects: list[Suspect]) -> None:
        self.stage = stage
        self.suspects = suspects
        self.place_of = {cell: place for place, cell in enumerate(stage.cells)}
        self._behaviours: dict[tuple[int, int, str], Behaviour] = {}

    def shown(self, question: Question, number: int) -> Shown:
        """What a build showed under the question's script."""
        found = self.stage.shown[question.script]
        if number >= len(found) or found[number] is None:
            self.stage.run(question.script, self.suspects, [number])
            found = self.stage.shown[question.script]
        shown = found[number]
        assert shown is not None
        return shown

    def answer(self, question: Question, number: int) -> Hashable:
        """What that build would answer to a perfect clock; times in groups that a stopwatch can tell apart."""
        suspect = self.suspects[number]
        if question.kind == "lit":
            return self.shown(question, number).at(self.step(question, number)) & self.mask(question)
        if question.kind == "times":
            seen = self.behaviour(question, number)
            return (seen.kind, seen.hold_steps // (2 * CLOCK_STEPS), seen.pulses)
        if question.kind == "level":
            place = self.place_of[question.cells[0]]
            return self.shown(question, number).level_at(place, self.step(question, number))
        if question.kind == "stands":
            return suspect.stands(self.stage.plan, question.cells[0])
        if question.kind == "row":
            return self.parts_in_row(question, number) or True
        if question.kind == "extra":
            return self.extra_parts(number)
        return number == question.script  # world

    def likelihood(self, question: Question, key: Hashable, number: int) -> float:
        """How well an answer fits that build: 1 just so, `MISFIT` not at all."""
        if question.kind == "lit" and question.at_steps != BEFORE:
            mask, step = self.mask(question), self.step(question, number)
            shown = self.shown(question, number)
            fits = sum(shown.at(step + off) & mask == key for off in range(-CLOCK_STEPS, CLOCK_STEPS + 1))
            return max(fits / (2 * CLOCK_STEPS + 1), MISFIT)
        if question.kind == "times":
            assert isinstance(key, Behaviour)
            return 1.0 if alike(self.behaviour(question, number), key) else MISFIT
        if question.kind == "level" and question.at_steps != BEFORE:
            place, step = self.place_of[question.cells[0]], self.step(question, number)
            shown = self.shown(question, number)
            return 1.0 if any(shown.level_at(place, step + off) == key for off in JITTER) else MISFIT
        expected = self.answer(question, number)
        if expected == key:
            return 1.0
        if question.kind == "row" and key is False:
            return 1.0 if expected is not True else MISFIT
        if question.kind == "row" and isinstance(key, frozenset) and isinstance(expected, frozenset) and key < expected:
            return PARTLY
        if isinstance(key, frozenset):  # cells and parts that stand otherwise in a row, or where nothing belongs
            return 1.0 if isinstance(expected, frozenset) and key <= expected else MISSEEN
        if question.kind == "stands" and key != self.stage.plan.cells.get(question.cells[0]):
            return MISSEEN  # one overlooks what is wrong more easily than one sees a part that is not there
        return MISFIT

    def behaviour(self, question: Question, number: int) -> Behaviour:
        """What the output does in that build; of a slow world as a clock on the wall measures it."""
        key = (question.script, number, question.output)
        if key not in self._behaviours:
            shown, place = self.shown(question, number), self.stage.output_place(question.output)
            rate = self.suspects[number].rate
            slower = STEPS_PER_SECOND / rate if rate else 1.0
            horizon = PRESS_STEP + self.stage.horizons[question.script]
            self._behaviours[key] = _behaviour(*shown.edges(place, PRESS_STEP), slower, horizon)
        return self._behaviours[key]

    def extra_parts(self, number: int) -> frozenset[tuple[Cell, Part | None]] | None:
        """What stands in cells where nothing belongs; None if nothing does."""
        plan = self.stage.plan
        changes = self.suspects[number].changes.items()
        return frozenset((cell, part) for cell, part in changes if part is not None and cell not in plan.cells) or None

    def parts_in_row(self, question: Question, number: int) -> frozenset[tuple[Cell, Part | None]]:
        """What stands in the row of a question otherwise than planned."""
        changes = self.suspects[number].changes.items()
        return frozenset((cell, part) for cell, part in changes if same_row(cell, question))

    def unnoticed(self, number: int) -> bool:
        """Whether every press of one trigger alone does to all outputs what it does in the build as planned."""
        for script, acted in enumerate(self.stage.scripts):
            if len(acted.acts) > 1:
                continue
            own, seen = self.stage.shown[script][0], self.stage.shown[script][number]
            if own is seen or own is None or seen is None:
                continue
            for output in self.stage.outputs:
                place = self.stage.output_place(output)
                (before, edges), (was, others) = own.edges(place, PRESS_STEP), seen.edges(place, PRESS_STEP)
                if before != was or len(edges) != len(others):
                    return False
                if any(abs(a - b) > CLOCK_STEPS for a, b in zip(edges, others, strict=True)):
                    return False
        rate = self.suspects[number].rate
        return rate is None

    def mask(self, question: Question) -> int:
        """The places of the question's cells as bits."""
        return sum(1 << self.place_of[cell] for cell in question.cells)

    def step(self, question: Question, number: int) -> int:
        """The step of that build's run in which it is looked at."""
        if question.at_steps == BEFORE:
            return PRESS_STEP - 1
        after = self.stage.scripts[question.script].last_step + question.at_steps
        rate = self.suspects[number].rate
        return PRESS_STEP + (after * rate // STEPS_PER_SECOND if rate else after)


def same_row(cell: Cell, question: Question) -> bool:
    """Whether a cell lies in the row, or column, of a question, or in the part of it that it asks about."""
    axis = 1 if question.output.startswith("column") else 0
    first, last = question.cells[0], question.cells[-1]
    if cell[2] != first[2] or cell[1 - axis] != first[1 - axis]:
        return False
    return not question.output.endswith("part") or first[axis] <= cell[axis] <= last[axis]


def alike(seen: Behaviour, said: Behaviour) -> bool:
    """Whether what was said may be what was seen; pulses count only if they were counted."""
    if seen.kind != said.kind or (said.pulses and said.pulses != seen.pulses):
        return False
    return not said.hold_steps or abs(seen.hold_steps - said.hold_steps) <= CLOCK_STEPS + said.hold_steps // 200


def _behaviour(before: bool, edges: list[int], slower: float, horizon: int) -> Behaviour:
    if not edges:
        return Behaviour("on all the time" if before else "never on")
    pulses = (len(edges) + 1) // 2
    if pulses >= FOREVER_PULSES and horizon - edges[-1] <= 2 * (edges[-1] - edges[-3]):
        return Behaviour("pulses for ever")
    if len(edges) % 2:
        return Behaviour("stays off" if before else "stays on", pulses=pulses if pulses > 1 else 0)
    return Behaviour("goes off" if before else "pulses", round((edges[-1] - edges[0]) * slower), pulses)


# --- what may be asked, and what it tells -------------------------------------------------------------------------


def told_by(asked: Asked, question: Question, chances: Mapping[int, float]) -> float:
    """How many bits the answer tells, in the mean: −Σ p log₂ p of the answers, less what a shaky hand blurs."""
    if question.kind == "lit":
        return _told_by_picture(asked, question, chances)
    groups: dict[Hashable, float] = {}
    for number, chance in chances.items():
        key = asked.answer(question, number)
        groups[key] = groups.get(key, 0.0) + chance
    return bits(groups.values())


def _told_by_picture(asked: Asked, question: Question, chances: Mapping[int, float]) -> float:
    """As `told_by`, of which cells are lit when a stopwatch may be off."""
    mask = asked.mask(question)
    offsets = (0,) if question.at_steps == BEFORE else JITTER
    groups: dict[int, float] = {}
    blurred = 0.0
    for number, chance in chances.items():
        shown, step = asked.shown(question, number), asked.step(question, number)
        first, last = shown.at(step + offsets[0]) & mask, shown.at(step + offsets[-1]) & mask
        if first == last:
            groups[first] = groups.get(first, 0.0) + chance
            continue
        seen = [shown.at(step + off) & mask for off in offsets]
        for key in seen:
            groups[key] = groups.get(key, 0.0) + chance / len(seen)
        blurred += chance * bits([seen.count(key) for key in set(seen)])
    return bits(groups.values()) - blurred / sum(chances.values())


def _told_right_or_wrong(asked: Asked, question: Question, chances: Mapping[int, float]) -> float:
    """As `told_by`, of a row that is only told right or wrong."""
    right = sum(chance for number, chance in chances.items() if asked.answer(question, number) is True)
    return bits([right, max(sum(chances.values()) - right, 0.0)])


def bits(weights: Collection[float]) -> float:
    """−Σ p log₂ p of weights that need not add up to 1.

    >>> bits([1, 1, 2])
    1.5
    """
    whole = sum(weights)
    return -sum(w / whole * log2(w / whole) for w in weights if w > 0)


def times_to_look(horizon: int) -> list[int]:
    """When to look: steps after the last act that one can hit with a stopwatch, closer together at first."""
    found, step, by = [], 4, 4
    while step < horizon:
        found.append(step)
        if (step >= 40 and by < 10) or (step >= 100 and by < 20) or (step >= 300 and by < 100):
            by = {4: 10, 10: 20, 20: 100}[by]
        if step >= 2000:
            by = step // 4
        step += by
    return found


def lit_questions(asked: Asked, chances: Mapping[int, float]) -> Iterator[Question]:
    """Pictures to mark: before anything is done, and at moments after each script."""
    stage = asked.stage
    if not stage.cells:
        return
    yield Question("lit", 0, BEFORE, _cells_that_tell(asked, Question("lit", 0, BEFORE), chances))
    for number, script in enumerate(stage.scripts):
        for at_steps in times_to_look(stage.horizons[number] - script.last_step):
            yield Question("lit", number, at_steps, _cells_that_tell(asked, Question("lit", number, at_steps), chances))


def _cells_that_tell(asked: Asked, question: Question, chances: Mapping[int, float]) -> tuple[Cell, ...]:
    """All cells that may be lit if they are few, else those of which it is least sure."""
    cells = asked.stage.cells
    if len(cells) <= MOST_ASKED:
        return tuple(cells)
    lit = [0.0] * len(cells)
    likeliest = sorted(chances, key=lambda number: -chances[number])[:200]
    whole = sum(chances[number] for number in likeliest)
    for number in likeliest:
        step = asked.step(question, number)
        mask = asked.shown(question, number).at(step)
        while mask:
            place = (mask & -mask).bit_length() - 1
            if place < len(lit):
                lit[place] += chances[number]
            mask &= mask - 1
    order = sorted(range(len(cells)), key=lambda place: abs(lit[place] / whole - 0.5))
    return tuple(sorted((cells[place] for place in order[:MOST_ASKED]), key=zyx))


def times_questions(asked: Asked) -> Iterator[Question]:
    """What an output does under a script."""
    for number in range(len(asked.stage.scripts)):
        for output in asked.stage.outputs:
            yield Question("times", number, 0, (), output)


def look_questions(asked: Asked, chances: Mapping[int, float], named: float = 1.0) -> dict[Question, float]:
    """What stands in a cell, and what in a row is not as planned, with the bits that each tells.

    `named` is the chance that what is otherwise in a row is named; else a row is only told right or wrong.
    """
    plan = asked.stage.plan
    by_cell: dict[Cell, dict[Hashable, float]] = {}
    by_row: dict[tuple[str, int, int], dict[Hashable, float]] = {}
    extras: dict[Hashable, float] = {}
    whole = sum(chances.values())
    for number, chance in chances.items():
        changes = asked.suspects[number].changes
        for cell, part in changes.items():
            groups = by_cell.setdefault(cell, {})
            groups[part] = groups.get(part, 0.0) + chance
        extra = asked.extra_parts(number)
        extras[extra] = extras.get(extra, 0.0) + chance
        rows: dict[tuple[str, int, int], list[tuple[Cell, Part | None]]] = {}
        for cell, part in changes.items():
            for row in (("", cell[1], cell[2]), ("column", cell[0], cell[2])):
                rows.setdefault(row, []).append((cell, part))
        for row, wrong in rows.items():
            groups = by_row.setdefault(row, {})
            groups[frozenset(wrong)] = groups.get(frozenset(wrong), 0.0) + chance
    found = {}
    for cell, groups in by_cell.items():
        rest = max(whole - sum(groups.values()), 0.0)
        found[Question("stands", cells=(cell,))] = bits([*groups.values(), rest])
    for (axis, place, z), groups in by_row.items():
        start: Cell = (place, 0, z) if axis else (0, place, z)
        probe = Question("row", cells=(start,), output=axis)
        line = tuple(sorted(cell for cell in plan.cells if same_row(cell, probe))) or (start,)
        right = max(whole - sum(groups.values()), 0.0)
        told = named * bits([*groups.values(), right]) + (1 - named) * bits([sum(groups.values()), right])
        found[probe._replace(cells=line)] = ROW_SEEN * told
        if len(line) >= LONG_ROW:
            for half in (line[: len(line) // 2], line[len(line) // 2 :]):
                piece = Question("row", cells=half, output=f"{axis or 'row'} part")
                told = named * told_by(asked, piece, chances)
                told += (1 - named) * _told_right_or_wrong(asked, piece, chances)
                found[piece] = ROW_SEEN * told
    found[Question("extra")] = bits(extras.values())
    return found


def level_questions(asked: Asked) -> Iterator[Question]:
    """The levels of wires, in the middle of what the likeliest builds do."""
    stage = asked.stage
    wires = [cell for cell in stage.cells if PARTS[stage.plan.cells[cell].kind].level_is_visible]
    for number, script in enumerate(stage.scripts[:2]):
        moments = times_to_look(stage.horizons[number] - script.last_step)
        for at_steps in moments[len(moments) // 4 : len(moments) // 2 : 3][:2]:
            for cell in wires[:20]:
                yield Question("level", number, at_steps, (cell,))
