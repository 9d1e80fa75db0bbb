"""All layouts of a small box, laid and run in the library."""

from __future__ import annotations

import ctypes
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from tickwright.engine.native import library as lib
from tickwright.engine.native.library import ActRecord, LayoutsRecord, PartRecord
from tickwright.engine.native.packing import act_record, packed
from tickwright.engine.native.simulation import World
from tickwright.errors import UsageError
from tickwright.kinds import Part
from tickwright.kinds.part import mirrored, turned
from tickwright.plan.hand import Stimulus
from tickwright.rules import RuleSet
from tickwright.space import Cell

MOST_CELLS, MOST_PARTS, MOST_VERDICTS = 32, 250, 256
RESTS_ON, GOES_ON, CUT = 1, 2, 4
_JUDGE = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.POINTER(ctypes.c_int64), ctypes.c_int32, ctypes.c_int32)
_TAKE = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_int32, ctypes.POINTER(ctypes.c_uint8), ctypes.c_int32, ctypes.c_int32)


class Pattern(NamedTuple):
    """What a cell does from the first act on: the steps in which it goes on and off by turns, counted from there."""

    edges: tuple[int, ...]
    rests_on: bool  # on before
    goes_on: bool  # the circuit did not come to rest while it was watched
    cut: bool  # there are more edges than these


class Counts(NamedTuple):
    """How many layouts can stand, are the first of their mirror images, are live, were run, never came to rest."""

    valid: int
    canonical: int
    live: int
    run: int
    restless: int


@dataclass(frozen=True)
class Box:
    """A box of cells, the parts that may stand in them, and what the hand does to the one trigger.

    The parts must be closed under mirroring, and hold a button or lever; none may move or hold items.
    """

    size: tuple[int, int, int]
    parts: tuple[Part, ...]
    rules: RuleSet
    button: tuple[Stimulus, ...]  # steps count from `start`; the cell is filled in
    lever: tuple[Stimulus, ...]
    start: int
    steps: int
    budget: int

    def cells(self) -> list[Cell]:
        """The cells in the order in which they are filled."""
        nx, ny, nz = self.size
        return [(x, y, z) for y in range(ny) for x in range(nx) for z in range(nz)]

    def layout(self, options: Sequence[int]) -> dict[Cell, Part]:
        """The layout of these options, one for each cell."""
        return {cell: self.parts[option - 1] for cell, option in zip(self.cells(), options, strict=True) if option}


Judge = Callable[[Pattern], int]
Take = Callable[[int, tuple[int, ...], int, int], int]


def go_through(box: Box, prefix: Sequence[int], most: Sequence[int], judge: Judge, take: Take) -> Counts:
    """Go through all layouts whose first cells have these options (0: empty, i: `parts[i - 1]`).

    `judge` gives a verdict for each new pattern, 0 if it is of no interest, else below `MOST_VERDICTS`; `most[verdict]`
    is how many parts such a layout may have at first. `take` gets the verdict, the options, the place of the cell that
    shows the pattern, and the number of parts, and gives how many parts the next one may have.
    """
    failures: list[BaseException] = []

    def judged(edges: ctypes._Pointer[ctypes.c_int64], number: int, flags: int) -> int:
        try:
            known = bool(flags & RESTS_ON), bool(flags & GOES_ON), bool(flags & CUT)
            return judge(Pattern(tuple(edges[:number]), *known))
        except BaseException as error:  # noqa: BLE001 - C cannot carry it; it is raised after the call
            failures.append(error)
            return -1

    def taken(verdict: int, options: ctypes._Pointer[ctypes.c_uint8], cell: int, parts: int) -> int:
        try:
            return take(verdict, tuple(options[:cells]), cell, parts)
        except BaseException as error:  # noqa: BLE001
            failures.append(error)
            return -1

    cells = box.size[0] * box.size[1] * box.size[2]
    record, kept = _record(box)
    counts = (ctypes.c_int64 * len(Counts._fields))()
    limits = (ctypes.c_int32 * MOST_VERDICTS)(*most)
    world = World()
    status = world.library.tw_layouts(
        world.handle,
        ctypes.byref(record),
        bytes(prefix),
        len(prefix),
        counts,
        limits,
        _JUDGE(judged),
        _TAKE(taken),
    )
    del kept
    if failures:
        raise failures[0]
    lib.check(status)
    return Counts(*counts)


@lru_cache(maxsize=8)
def images(parts: tuple[Part, ...]) -> bytes:
    """The option that each becomes in each of the eight mirror images; see tw.h."""
    rows = []
    for symmetry in range(8):
        row = [0]
        for part in parts:
            image = mirrored(part, "x") if symmetry & 1 else part
            image = mirrored(image, "y") if symmetry & 2 else image
            image = turned(mirrored(image, "y"), 1) if symmetry & 4 else image
            row.append(parts.index(image) + 1)
        rows += row
    return bytes(rows)


def _record(box: Box) -> tuple[ctypes.Structure, list[object]]:
    if len(box.parts) > MOST_PARTS or box.size[0] * box.size[1] * box.size[2] > MOST_CELLS:
        raise UsageError(f"A box has at most {MOST_CELLS} cells and {MOST_PARTS} sorts of parts here.")
    rules = packed(box.rules)
    palette = (PartRecord * len(box.parts)).from_buffer_copy(b"".join(map(rules.row, box.parts)))
    mirrors = images(box.parts)
    scripts = [
        (ActRecord * max(len(acts), 1))(*[act_record(act, act.number, {}, 0) for act in acts])
        for acts in (box.button, box.lever)
    ]
    nx, ny, nz = box.size
    record = LayoutsRecord(
        rules=ctypes.addressof(rules.record),
        palette=ctypes.addressof(palette),
        images=ctypes.cast(ctypes.c_char_p(mirrors), ctypes.c_void_p).value,
        button=ctypes.addressof(scripts[0]),
        lever=ctypes.addressof(scripts[1]),
        button_n=len(box.button),
        lever_n=len(box.lever),
        palette_n=len(box.parts),
        start=box.start,
        steps=box.steps,
        budget=box.budget,
        nx=nx,
        ny=ny,
        nz=nz,
        symmetries_n=8 if nx == ny else 4,
    )
    return record, [rules, palette, mirrors, scripts]
