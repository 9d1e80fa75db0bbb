"""A hand-computed step table for every signal part.

Each table was worked out on paper from the rules of the block world, never copied from a run: the comment beside it is
the working. A table gives, for each watched cell, its value at the end of step 0 and then every change. Two things to
keep in mind while reading: what is due acts first in a step and the hand acts last, and delays count from the step in
which a part was told.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from pictures import cells_of
from tickwright.engine import run
from tickwright.engine.running import ENGINES
from tickwright.plan.model import Plan
from tickwright.space import Cell

KEY = {
    "#": "block", "i": "insulator", "L": "lamp", "P": "power-block", "w": "wire",
    ">": "repeater east", "<": "repeater west",
    "2": "repeater east delay=2", "3": "repeater east delay=3", "4": "repeater east delay=4",
    "^": "repeater north", "n": "comparator north", "c": "comparator east", "d": "comparator east mode=difference",
    "t": "torch", "T": "torch on=west", "v": "lever", "V": "lever thrown=yes", "b": "short-button", "B": "long-button",
    "s": "change-sensor east", "S": "change-sensor south", "U": "change-sensor up", "D": "change-sensor down",
    "o": "tread-plate", "p": "item-plate", "1": "counting-plate", "0": "counting-plate counts=10",
    "C": "crate", "K": "crate items=864", "k": "crate items=1", "F": "crate items=1728", "e": "ejector north",
}  # fmt: skip
BOTH = ("standard", "older-wire")

Changes = list[tuple[int, int]]


@dataclass(frozen=True)
class Table:
    """A plan in pictures (bottom layer first, rows split by "/"), what the hand does, and what must come of it.

    `expected` maps "x,y,z" to a change list. `floor` lays a layer of blocks under the pictures, which then start at
    z = 1. `A` and `B` in the hand's texts stand for the cells named in `levers`.
    """

    name: str
    picture: tuple[str, ...]
    hand: tuple[str, ...]
    expected: dict[str, Changes]
    rules: tuple[str, ...] = BOTH
    floor: bool = True
    steps: int = 70
    levers: dict[str, str] = field(default_factory=dict)

    def plan(self) -> Plan:
        return Plan(cells_of(self.picture, KEY, self.floor))

    def script(self) -> list[str]:
        return [
            ":".join([step, self.levers.get(who, who), *act])
            for step, who, *act in (text.split(":") for text in self.hand)
        ]


def as_cell(text: str) -> Cell:
    x, y, z = map(int, text.split(","))
    return (x, y, z)


def on_off(who: str, *steps: int) -> tuple[str, ...]:
    """The lever `who` is thrown on, off, on, ... at these steps."""
    return tuple(f"{step}:{who}:{'off' if index % 2 else 'on'}" for index, step in enumerate(steps))


A = {"A": "0,0,1"}  # in most pictures the lever stands at the west end of the first row

WIRE = [
    # The wire beside the lever hears 15; each further one has one less; the sixteenth has nothing left.
    Table(
        "a level is lost in each cell",
        ("vwwwwwwwwwwwwwwww",),
        on_off("A", 2, 9),
        {
            "1,0,1": [(0, 0), (2, 15), (9, 0)],
            "2,0,1": [(0, 0), (2, 14), (9, 0)],
            "8,0,1": [(0, 0), (2, 8), (9, 0)],
            "15,0,1": [(0, 0), (2, 1), (9, 0)],
            "16,0,1": [(0, 0)],
        },
        levers=A,
    ),
    # Wires at x = 1..6. From the west x = 3 has 13 and x = 5 has 11; from the east 12 and 14. The stronger counts.
    Table(
        "the stronger of two sources counts",
        ("vwwwwwwv",),
        ("2:A:on", "4:B:on", "6:A:off", "8:B:off"),
        {
            "3,0,1": [(0, 0), (2, 13), (6, 12), (8, 0)],
            "5,0,1": [(0, 0), (2, 11), (4, 14), (8, 0)],
        },
        levers={**A, "B": "7,0,1"},
    ),
    # A short cut of three cells beside a way round of five: the last wire, (4, 0), is four cells from the first.
    Table(
        "the shortest way counts",
        ("vwwww/.w.w./.www.",),
        on_off("A", 2, 9),
        {
            "4,0,1": [(0, 0), (2, 12), (9, 0)],
            "2,2,1": [(0, 0), (2, 12), (9, 0)],
            "3,2,1": [(0, 0), (2, 11), (9, 0)],
        },
        levers=A,
    ),
]

REPEATER = [
    *(
        # On 2 steps a tick after the lever, off as long after it: the wire before it shows 15 whatever comes in.
        Table(
            f"a repeater of {ticks} ticks",
            (f"vww{mark}w",),
            on_off("A", 3, 40),
            {
                "2,0,1": [(0, 0), (3, 14), (40, 0)],
                "3,0,1": [(0, 0), (3 + 2 * ticks, 15), (40 + 2 * ticks, 0)],
                "4,0,1": [(0, 0), (3 + 2 * ticks, 15), (40 + 2 * ticks, 0)],
            },
            levers=A,
        )
        for ticks, mark in ((1, ">"), (2, "2"), (3, "3"), (4, "4"))
    ),
    # Due at 3 + 8 = 11: on, whatever the input now is. It is gone, so off after the delay again: 11 + 8 = 19.
    Table(
        "a pulse of one step is stretched to the delay",
        ("v4",),
        on_off("A", 3, 4),
        {"1,0,1": [(0, 0), (11, 15), (19, 0)]},
        levers=A,
    ),
    Table(
        "a pulse one step short of the delay is stretched",
        ("v4",),
        on_off("A", 3, 10),
        {"1,0,1": [(0, 0), (11, 15), (19, 0)]},
        levers=A,
    ),
    # At 11 the repeater comes first and still hears the lever; the hand throws it after that: off at 11 + 8.
    Table(
        "a pulse as long as the delay keeps its length",
        ("v4",),
        on_off("A", 3, 11),
        {"1,0,1": [(0, 0), (11, 15), (19, 0)]},
        levers=A,
    ),
    Table(
        "a longer pulse keeps its length", ("v3",), on_off("A", 3, 20), {"1,0,1": [(0, 0), (9, 15), (26, 0)]}, levers=A
    ),
    # Off at 30 schedules an event for 34; by then the input is back, so nothing happens.
    Table(
        "a gap shorter than the delay is swallowed",
        ("v2",),
        on_off("A", 3, 30, 33, 50),
        {"1,0,1": [(0, 0), (7, 15), (54, 0)]},
        levers=A,
    ),
    # At 34 the repeater looks before the hand throws the lever: off, and on again four steps after the lever.
    Table(
        "a gap as long as the delay passes",
        ("v2",),
        on_off("A", 3, 30, 34, 50),
        {"1,0,1": [(0, 0), (7, 15), (34, 0), (38, 15), (54, 0)]},
        levers=A,
    ),
    # The second pulse meets the event for 11 and makes none of its own.
    Table(
        "two pulses within the delay are one",
        ("v4",),
        on_off("A", 3, 4, 6, 7),
        {"1,0,1": [(0, 0), (11, 15), (19, 0)]},
        levers=A,
    ),
    # The stretched pulse has its end, 19, appointed since 11: a pulse within it adds nothing ...
    Table(
        "a pulse during a stretched one is lost",
        ("v4",),
        on_off("A", 3, 4, 13, 14),
        {"1,0,1": [(0, 0), (11, 15), (19, 0)]},
        levers=A,
    ),
    # ... but an input that is there at 19 holds it on; off at 21, so off at 29.
    Table(
        "an input at the end of a stretched pulse holds it",
        ("v4",),
        on_off("A", 3, 4, 13, 21),
        {"1,0,1": [(0, 0), (11, 15), (29, 0)]},
        levers=A,
    ),
    # 3 + 2 and 5 + 8; the pulse of one step leaves the first two steps long and the second eight steps long.
    Table(
        "repeaters in a row",
        ("v>4",),
        on_off("A", 3, 4),
        {"1,0,1": [(0, 0), (5, 15), (7, 0)], "2,0,1": [(0, 0), (13, 15), (21, 0)]},
        levers=A,
    ),
    # The wire bends: it points nowhere under older-wire, but it lies directly behind the repeater.
    Table(
        "a repeater hears a wire behind it whatever its shape",
        ("v./w>",),
        on_off("A", 2, 9),
        {"1,1,1": [(0, 0), (4, 15), (11, 0)]},
        levers=A,
    ),
    # Nothing reaches a repeater from its front or its flanks.
    Table(
        "a repeater is deaf to front and flanks",
        (".v./.>v",),
        ("2:A:on", "4:B:on"),
        {"1,1,1": [(0, 0)]},
        levers={"A": "1,0,1", "B": "2,1,1"},
    ),
]

LOCK = [
    *(
        # The locking part goes on and off two steps after its lever: 4..12 and 22..32. Locked, the repeater ignores the
        # lever at 6; told at 12 that the lock is gone it comes on at 14; locked again it ignores 24 until 32 + 2.
        Table(
            f"a repeater locked by a {what}",
            (f"vw>w/..{mark}./..v.",),
            (
                "2:B:on",
                "6:A:on",
                "10:B:off",
                "20:B:on",
                "24:A:off",
                "30:B:off",
            ),
            {
                "2,0,1": [(0, 0), (14, 15), (34, 0)],
                "3,0,1": [(0, 0), (14, 15), (34, 0)],
                "2,1,1": [(0, 0), (4, 15), (12, 0), (22, 15), (32, 0)],
            },
            levers={**A, "B": "2,2,1"},
        )
        for what, mark in (("repeater", "^"), ("comparator", "n"))
    ),
    # Appointed for 6 + 8 = 14, locked from 10 to 22: at 14 nothing happens. At 22 it is told: 22 + 8.
    Table(
        "a locked due entry does nothing",
        ("v4w/.^./.v.",),
        ("6:A:on", "8:B:on", "20:B:off"),
        {"1,0,1": [(0, 0), (30, 15)]},
        levers={**A, "B": "1,2,1"},
    ),
    # The same with the input gone before the lock: at 22 input and state agree, so nothing ever comes.
    Table(
        "what passed while it was locked is forgotten",
        ("v4w/.^./.v.",),
        ("6:A:on", "8:B:on", "18:A:off", "20:B:off"),
        {"1,0,1": [(0, 0)]},
        levers={**A, "B": "1,2,1"},
    ),
    # Both due at 8. The lock looks into a repeater's flank, priority -3, so it acts before the other's -1.
    Table(
        "a lock due together with what it locks comes first",
        ("v>w/.^./.v.",),
        ("6:A:on", "6:B:on"),
        {"1,0,1": [(0, 0)], "1,1,1": [(0, 0), (8, 15)]},
        levers={**A, "B": "1,2,1"},
    ),
    # Neither a lever nor a wire at its flank locks a repeater.
    Table(
        "only repeaters and comparators lock",
        ("v>w/.Vw",),
        on_off("A", 3, 9),
        {"1,0,1": [(0, 0), (5, 15), (11, 0)]},
        levers=A,
    ),
]

FLANKED = "vd./.w./.w./.w./.v."  # lever, comparator; flank wires 13, 14, 15 and the lever B that feeds them
COMPARATOR = [
    # R = 13 through three wires; S = 14 through two. 13 < 14, so nothing passes from 10 + 2 until 20 + 2.
    Table(
        "threshold: a stronger flank shuts it",
        ("vwwwcw/....w./....w./....v.",),
        (
            "2:A:on",
            "10:B:on",
            "20:B:off",
            "30:A:off",
        ),
        {
            "4,0,1": [(0, 0), (4, 13), (12, 0), (22, 13), (32, 0)],
            "5,0,1": [(0, 0), (4, 13), (12, 0), (22, 13), (32, 0)],
        },
        levers={**A, "B": "4,3,1"},
    ),
    # The same with a flank of 13: R is not less than S.
    Table(
        "threshold: an equal flank lets it pass",
        ("vwwwcw/....w./....w./....w./....v.",),
        (
            "2:A:on",
            "10:B:on",
            "20:B:off",
            "30:A:off",
        ),
        {"4,0,1": [(0, 0), (4, 13), (32, 0)]},
        levers={**A, "B": "4,4,1"},
    ),
    # 15 - 13 = 2; with A gone 0 - 13 is not below 0.
    Table(
        "difference",
        (FLANKED,),
        ("2:A:on", "10:B:on", "20:A:off"),
        {"1,0,1": [(0, 0), (4, 15), (12, 2), (22, 0)]},
        levers={**A, "B": "1,4,1"},
    ),
    # North flank 14 through two wires, south flank 12 through four: 15 - 14 = 1, then 15 - 12 = 3.
    Table(
        "the larger flank counts",
        (".v./.w./.w./vdw/.w./.w./.w./.w./.v.",),
        (
            "0:0,3,1:on",
            "10:1,0,1:on",
            "10:1,8,1:on",
            "20:1,0,1:off",
        ),
        {"1,3,1": [(0, 0), (2, 15), (12, 1), (22, 3)], "2,3,1": [(0, 0), (2, 15), (12, 1), (22, 3)]},
    ),
    # The flank wire, 13, bends towards the lever in the east: it is heard even where it points nowhere (older-wire).
    Table(
        "a flank wire is heard whatever its shape",
        ("vd.../.wwwv",),
        ("2:A:on", "10:B:on"),
        {"1,0,1": [(0, 0), (4, 15), (12, 2)]},
        levers={**A, "B": "4,1,1"},
    ),
    # R = 14 through two wires is less than 15.
    Table("a power-block at the flank counts 15", ("vwwc/...P",), on_off("A", 2, 20), {"3,0,1": [(0, 0)]}, levers=A),
    Table(
        "difference from a power-block leaves nothing", ("vd/.P",), on_off("A", 2, 20), {"1,0,1": [(0, 0)]}, levers=A
    ),
    # The block beside it is powered strongly by the lever on top from step 10: no flank hears that.
    Table(
        "a merely powered block at the flank is not heard",
        ("vd/.#", "../.v"),
        ("2:A:on", "10:B:on", "20:A:off"),
        {"1,0,1": [(0, 0), (4, 15), (22, 0)], "1,1,1": [(0, 0), (10, 15)]},
        levers={**A, "B": "1,1,2"},
    ),
    Table(
        "a lever at the flank is not heard",
        ("vd/.v",),
        ("2:A:on", "10:B:on", "20:A:off"),
        {"1,0,1": [(0, 0), (4, 15), (22, 0)]},
        levers={**A, "B": "1,1,1"},
    ),
    # The repeater facing its flank comes on at 12 and makes the difference 0 at 14.
    Table(
        "a repeater that faces into the flank is heard",
        ("vd/.^/.v",),
        ("2:A:on", "10:B:on"),
        {"1,0,1": [(0, 0), (4, 15), (14, 0)]},
        levers={**A, "B": "1,2,1"},
    ),
    # The one that only passes by is not.
    Table(
        "a repeater that passes the flank is not heard",
        (".vd/v>.",),
        ("2:A:on", "10:B:on"),
        {"2,0,1": [(0, 0), (4, 15)]},
        levers={"A": "1,0,1", "B": "0,1,1"},
    ),
    # Wires 15, 14, 13; the last points into the block and powers it weakly with 13, which a comparator hears.
    Table(
        "a weakly powered block behind it",
        ("vwww#c",),
        on_off("A", 2, 20),
        {"4,0,1": [(0, 0), (2, 13), (20, 0)], "5,0,1": [(0, 0), (4, 13), (22, 0)]},
        levers=A,
    ),
    # Due at 5; A is on and so is B (S = 13 since 4): it shows what it computes then.
    Table(
        "it shows what holds when it is due",
        (FLANKED,),
        ("3:A:on", "4:B:on"),
        {"1,0,1": [(0, 0), (5, 2)]},
        levers={**A, "B": "1,4,1"},
    ),
    # One item: floor(1 + 14 / 1728) = 1. Half full: floor(1 + 7) = 8. Full: 15. Empty: 0.
    Table(
        "fill levels",
        ("kc/Kc/Fc/Cc",),
        ("20:0,3,1:put=864",),
        {
            "1,0,1": [(0, 0), (2, 1)],
            "1,1,1": [(0, 0), (2, 8)],
            "1,2,1": [(0, 0), (2, 15)],
            "1,3,1": [(0, 0), (22, 8)],
        },
    ),
    # The lever powers the ejector strongly, which the repeater west of it hears; but it is empty, and that counts.
    Table(
        "a container behind it replaces what it would hear",
        ("<ec", ".v."),
        on_off("A", 3, 20),
        {"0,0,1": [(0, 0), (5, 15), (22, 0)], "2,0,1": [(0, 0)]},
        levers={"A": "1,0,2"},
    ),
    # Through the block 8 comes from the crate, unless the lever on the block makes R = 15.
    Table(
        "a container behind a block counts when R is below 15",
        ("K#c", ".v."),
        on_off("A", 10, 20),
        {"2,0,1": [(0, 0), (2, 8), (12, 15), (22, 8)]},
        levers={"A": "1,0,2"},
    ),
    # The wire on the block has 14, which the comparator south of the block hears; to the east the crate's 8 counts.
    Table(
        "a level of 14 does not hide the container",
        (".i./.i./K#c", ".v./.w./.w."),
        on_off("A", 10, 20),
        {"1,2,1": [(0, 0), (10, 14), (20, 0)], "2,2,1": [(0, 0), (2, 8)]},
        levers={"A": "1,0,2"},
    ),
    # Due at 5, when the pulse is over.
    Table("a pulse of one step is lost", ("vc",), on_off("A", 3, 4), {"1,0,1": [(0, 0)]}, levers=A),
    # At 5 the comparator looks before the hand throws the lever.
    Table(
        "a hand's pulse of two steps passes", ("vc",), on_off("A", 3, 5), {"1,0,1": [(0, 0), (5, 15), (7, 0)]}, levers=A
    ),
    # The repeater is on from 5 to 7. At 7 both are due and the repeater's -3 (or -2 through the wire) goes first.
    Table(
        "a repeater's pulse of one tick is lost",
        ("v>c",),
        on_off("A", 3, 5),
        {"1,0,1": [(0, 0), (5, 15), (7, 0)], "2,0,1": [(0, 0)]},
        levers=A,
    ),
    Table(
        "a repeater's stretched pulse of one tick is lost",
        ("v>wc",),
        on_off("A", 3, 4),
        {"1,0,1": [(0, 0), (5, 15), (7, 0)], "3,0,1": [(0, 0)]},
        levers=A,
    ),
    # The repeater is on from 5 to 8: at 7 there is something to show.
    Table(
        "a repeater's pulse of three steps passes",
        ("v>c",),
        on_off("A", 3, 6),
        {"1,0,1": [(0, 0), (5, 15), (8, 0)], "2,0,1": [(0, 0), (7, 15), (10, 0)]},
        levers=A,
    ),
]


def torch_script(*offs: int) -> tuple[str, ...]:
    """Throw lever A so that a torch goes off at each of `offs` and is told to light again two steps later."""
    return tuple(act for off in offs for act in (f"{off - 2}:A:on", f"{off + 2}:A:off"))


def torch_changes(*offs: int) -> Changes:
    """Off at each of `offs`, lit again four steps later."""
    return [(0, 15), *(change for off in offs for change in ((off, 0), (off + 4, 15)))]


EIGHT_IN_60 = (4, 12, 20, 28, 36, 44, 54, 64)
EIGHT_IN_61 = (4, 12, 20, 28, 36, 44, 54, 65)
TORCH = [
    # The wire (joined at the lever only, so pointing east too) powers the block; the torch follows two steps later.
    Table("a torch inverts", ("vw#T",), on_off("A", 4, 20), {"3,0,1": [(0, 15), (6, 0), (22, 15)]}, levers=A),
    # Due at 6 it looks again, and the block has no power any more.
    Table("a torch looks again when due", ("vw#T",), on_off("A", 4, 5), {"3,0,1": [(0, 15)]}, levers=A),
    Table("a pulse of two steps passes", ("vw#T",), on_off("A", 4, 6), {"3,0,1": [(0, 15), (6, 0), (8, 15)]}, levers=A),
    # Lit at the start, told once, due at 2.
    Table("a torch on a block that is powered at the start", ("Vw#T",), (), {"3,0,1": [(0, 15), (2, 0)]}),
    # Eight switch-offs, 64 - 4 = 60: dark and deaf (also to the lever at 100 and 110) until 64 + 160.
    Table(
        "a torch burns out",
        ("vw#T",),
        (*torch_script(*EIGHT_IN_60), *on_off("A", 100, 110)),
        {"3,0,1": [*torch_changes(*EIGHT_IN_60[:7]), (64, 0), (224, 15)]},
        steps=300,
        levers=A,
    ),
    # 65 - 4 = 61: no.
    Table(
        "a torch just does not burn out",
        ("vw#T",),
        torch_script(*EIGHT_IN_61),
        {"3,0,1": torch_changes(*EIGHT_IN_61)},
        steps=300,
        levers=A,
    ),
    # Powered at 224: it stays dark, and lights two steps after the lever.
    Table(
        "a burnt-out torch that is powered stays dark",
        ("vw#T",),
        (*torch_script(*EIGHT_IN_60), *on_off("A", 200, 230)),
        {"3,0,1": [*torch_changes(*EIGHT_IN_60[:7]), (64, 0), (232, 15)]},
        steps=300,
        levers=A,
    ),
    # It gives 15 to the wire beside it, and strong power to the block above it, which another wire hears.
    Table("what a torch gives", ("tw", "#."), (), {"1,0,1": [(0, 15)], "0,0,2": [(0, 15)]}),
    Table("the cell above a torch is strongly powered", ("t#", "#w"), (), {"1,0,2": [(0, 15)]}),
    Table("the cell above a torch on a side too", ("#T#", ".#w"), (), {"1,0,2": [(0, 15)], "2,0,2": [(0, 15)]}),
    # But no power to a block beside it, nor to the one it stands on: nothing for lamp or wire behind them.
    Table(
        "a torch powers no block beside it",
        ("t#w", ".L."),
        (),
        {
            "1,0,1": [(0, 0)],
            "2,0,1": [(0, 0)],
            "1,0,2": [(0, 0)],
            "0,0,0": [(0, 0)],
        },
    ),
]

LAMP = [
    Table(
        "a lamp lights at once and goes dark after 4",
        ("vL",),
        on_off("A", 3, 10),
        {"1,0,1": [(0, 0), (3, 15), (14, 0)]},
        levers=A,
    ),
    # Due at 14 it is powered, so it stays; the next loss, at 20, counts anew.
    Table(
        "a lamp that is powered again meanwhile stays lit",
        ("vL",),
        on_off("A", 3, 10, 12, 20),
        {"1,0,1": [(0, 0), (3, 15), (24, 0)]},
        levers=A,
    ),
    # The entry for 14 is outstanding when power is lost again at 13: dark one step later.
    Table(
        "an outstanding entry darkens a lamp early",
        ("vL",),
        on_off("A", 3, 10, 11, 13),
        {"1,0,1": [(0, 0), (3, 15), (14, 0)]},
        levers=A,
    ),
    Table(
        "a pulse of one step lights a lamp for five",
        ("vL",),
        on_off("A", 3, 4),
        {"1,0,1": [(0, 0), (3, 15), (8, 0)]},
        levers=A,
    ),
    # A lamp conducts: the wire on it powers it weakly, and the torch beside it hears that.
    Table(
        "a lamp passes power on",
        ("iLT", "vw."),
        on_off("A", 4, 20),
        {"1,0,1": [(0, 0), (4, 15), (24, 0)], "2,0,1": [(0, 15), (6, 0), (22, 15)]},
        levers={"A": "0,0,2"},
    ),
]

HAND = [
    Table(
        "a thrown lever is on at the start",
        ("VL",),
        ("5:A:flip",),
        {"0,0,1": [(0, 15), (5, 0)], "1,0,1": [(0, 15), (9, 0)]},
        levers=A,
    ),
    Table(
        "a lever stays where it is put",
        ("vL",),
        ("3:A:on", "5:A:on", "9:A:flip", "9:A:off", "20:A:flip"),
        {"0,0,1": [(0, 0), (3, 15), (9, 0), (20, 15)], "1,0,1": [(0, 0), (3, 15), (13, 0), (20, 15)]},
        levers=A,
    ),
    Table(
        "a short button",
        ("bL",),
        ("3:A:press",),
        {"0,0,1": [(0, 0), (3, 15), (23, 0)], "1,0,1": [(0, 0), (3, 15), (27, 0)]},
        levers=A,
    ),
    Table(
        "a long button",
        ("BL",),
        ("3:A:press",),
        {"0,0,1": [(0, 0), (3, 15), (33, 0)], "1,0,1": [(0, 0), (3, 15), (37, 0)]},
        levers=A,
    ),
    Table(
        "a press while pressed is ignored",
        ("b",),
        ("3:A:press", "10:A:press", "22:A:press"),
        {"0,0,1": [(0, 0), (3, 15), (23, 0)]},
        levers=A,
    ),
    # At 23 it releases as a due part and the hand presses it after that: on at the end of 23, until 43.
    Table(
        "a press in the step of the release counts",
        ("bL",),
        ("3:A:press", "23:A:press"),
        {"0,0,1": [(0, 0), (3, 15), (43, 0)], "1,0,1": [(0, 0), (3, 15), (47, 0)]},
        levers=A,
    ),
    # Lever and button power the block they are fixed to strongly: the wire on its other side hears 15.
    Table(
        "what a lever is fixed to is strongly powered",
        ("w#", ".v"),
        on_off("A", 3, 9),
        {"0,0,1": [(0, 0), (3, 15), (9, 0)], "1,0,1": [(0, 0), (3, 15), (9, 0)]},
        levers={"A": "1,0,2"},
    ),
    Table(
        "what a button is fixed to is strongly powered",
        ("w#", ".b"),
        ("3:A:press",),
        {"0,0,1": [(0, 0), (3, 15), (23, 0)]},
        levers={"A": "1,0,2"},
    ),
    # A block merely beside them is not powered at all.
    Table(
        "a lever powers no block beside it",
        ("v#w",),
        on_off("A", 3, 9),
        {"1,0,1": [(0, 0)], "2,0,1": [(0, 0)]},
        levers=A,
    ),
]

PLATE = [
    # Looks at 23, 43, ...: left at 10, so off at 23.
    Table(
        "a tread-plate",
        ("ow",),
        ("3:A:tread", "10:A:leave"),
        {"0,0,1": [(0, 0), (3, 15), (23, 0)], "1,0,1": [(0, 0), (3, 15), (23, 0)]},
        levers=A,
    ),
    # At 23 the look comes before the hand: still there. Off at 43.
    Table(
        "the look comes before the hand",
        ("o",),
        ("3:A:tread", "23:A:leave"),
        {"0,0,1": [(0, 0), (3, 15), (43, 0)]},
        levers=A,
    ),
    # Gone at 10 and back at 20: the look at 23 finds it there.
    Table(
        "a plate does not notice who left and came back",
        ("o",),
        ("3:A:tread", "10:A:leave", "20:A:tread", "30:A:leave"),
        {"0,0,1": [(0, 0), (3, 15), (43, 0)]},
        levers=A,
    ),
    # Released at 23, trodden anew at 25: the looks count from 25.
    Table(
        "the looks count from the step it came on",
        ("o",),
        ("3:A:tread", "10:A:leave", "25:A:tread", "26:A:leave"),
        {"0,0,1": [(0, 0), (3, 15), (23, 0), (25, 15), (45, 0)]},
        levers=A,
    ),
    Table(
        "an item-plate feels a creature",
        ("p",),
        ("3:A:tread", "4:A:leave"),
        {"0,0,1": [(0, 0), (3, 15), (23, 0)]},
        levers=A,
    ),
    Table(
        "an item-plate feels items, a tread-plate does not",
        ("p#o",),
        (
            "3:0,0,1:drop=5",
            "3:2,0,1:drop=5",
            "30:0,0,1:take",
        ),
        {"0,0,1": [(0, 0), (3, 15), (43, 0)], "2,0,1": [(0, 0)]},
    ),
    # The first counts at once; the second only at the look of 13; looks at 23 and 33 find one and none.
    Table(
        "a counting plate looks every 10",
        ("1w",),
        ("3:A:tread", "5:A:tread", "14:A:leave", "25:A:leave"),
        {
            "0,0,1": [(0, 0), (3, 1), (13, 2), (23, 1), (33, 0)],
            "1,0,1": [(0, 0), (3, 1), (13, 2), (23, 1), (33, 0)],
        },
        levers=A,
    ),
    # A stack is one thing however large; creature and stack are two.
    Table(
        "a counting plate counts things",
        ("1",),
        ("3:A:drop=64", "4:A:tread", "15:A:take"),
        {"0,0,1": [(0, 0), (3, 1), (13, 2), (23, 1)]},
        levers=A,
    ),
    Table(
        "a counting plate counts to 15", ("1",), ("3:A:tread",) * 20, {"0,0,1": [(0, 0), (3, 1), (13, 15)]}, levers=A
    ),
    # ceil(1 / 10) = 1 at once, ceil(11 / 10) = 2 at the look; one leaves: ceil(10 / 10) = 1.
    Table(
        "a counting plate by tens",
        ("0",),
        (*("3:A:tread",) * 11, "20:A:leave"),
        {"0,0,1": [(0, 0), (3, 1), (13, 2), (23, 1)]},
        levers=A,
    ),
    # The cell under it is powered strongly: the wire beside that cell hears it.
    Table(
        "what a plate stands on is strongly powered",
        ("#w", "o."),
        ("3:A:tread", "4:A:leave"),
        {"1,0,1": [(0, 0), (3, 15), (23, 0)]},
        levers={"A": "0,0,2"},
    ),
]

SENSOR = [
    # Seen at 3: on at 5, off at 7. The lamp before it has power from 5 to 7 and from 12 to 14, and is dark 4 later.
    Table(
        "a change-sensor",
        ("vsL",),
        on_off("A", 3, 10),
        {
            "1,0,1": [(0, 0), (5, 15), (7, 0), (12, 15), (14, 0)],
            "2,0,1": [(0, 0), (5, 15), (11, 0), (12, 15), (18, 0)],
        },
        levers=A,
    ),
    Table(
        "a change while it is scheduled adds nothing",
        ("vs",),
        on_off("A", 3, 4),
        {"1,0,1": [(0, 0), (5, 15), (7, 0)]},
        levers=A,
    ),
    Table(
        "a change while it is on adds nothing",
        ("vs",),
        on_off("A", 3, 5, 6),
        {"1,0,1": [(0, 0), (5, 15), (7, 0)]},
        levers=A,
    ),
    # Off at 7 as a due part, before the hand changes the lever: seen, on at 9.
    Table(
        "a change in the step it goes off is seen",
        ("vs",),
        on_off("A", 3, 7),
        {"1,0,1": [(0, 0), (5, 15), (7, 0), (9, 15), (11, 0)]},
        levers=A,
    ),
    # At 10 the wire falls to 0 and rises to 15 within the step: no trace shows it, the sensor does.
    Table(
        "a wire's flicker within a step",
        ("vwv/.S.",),
        ("2:A:on", "10:A:off", "10:B:on"),
        {"1,0,1": [(0, 0), (2, 15)], "1,1,1": [(0, 0), (4, 15), (6, 0), (12, 15), (14, 0)]},
        levers={**A, "B": "2,0,1"},
    ),
    # The other way round the level never falls.
    Table(
        "no flicker, no pulse",
        ("vwv/.S.",),
        ("2:A:on", "10:B:on", "10:A:off"),
        {"1,0,1": [(0, 0), (2, 15)], "1,1,1": [(0, 0), (4, 15), (6, 0)]},
        levers={**A, "B": "2,0,1"},
    ),
    # The wire goes 14, then 15 at 10, then 14 at 20: levels count, not only on and off.
    Table(
        "a wire's level is visible",
        ("vwwv/..S.",),
        ("2:A:on", "10:B:on", "20:B:off"),
        {
            "2,0,1": [(0, 0), (2, 14), (10, 15), (20, 14)],
            "2,1,1": [(0, 0), (4, 15), (6, 0), (12, 15), (14, 0), (22, 15), (24, 0)],
        },
        levers={**A, "B": "3,0,1"},
    ),
    # The lamp lights at 3 and is dark at 14.
    Table(
        "a lamp is watched",
        ("vLs",),
        on_off("A", 3, 10),
        {"2,0,1": [(0, 0), (5, 15), (7, 0), (16, 15), (18, 0)]},
        levers=A,
    ),
    # Comparator: 15 at 4, 2 at 12 (not visible), 0 at 22.
    Table(
        "a comparator's level is not visible",
        ("vds/.w./.w./.w./.v.",),
        ("2:A:on", "10:B:on", "20:A:off"),
        {"1,0,1": [(0, 0), (4, 15), (12, 2), (22, 0)], "2,0,1": [(0, 0), (6, 15), (8, 0), (24, 15), (26, 0)]},
        levers={**A, "B": "1,4,1"},
    ),
    # Repeater on 5..12, so pulses from 7 and 14; the torch is off 6..22, the button on 3..23, the plate 3..23.
    Table(
        "a repeater is watched",
        ("v>s",),
        on_off("A", 3, 10),
        {"2,0,1": [(0, 0), (7, 15), (9, 0), (14, 15), (16, 0)]},
        levers=A,
    ),
    Table(
        "a torch is watched",
        ("vw#Ts",),
        on_off("A", 4, 20),
        {"4,0,1": [(0, 0), (8, 15), (10, 0), (24, 15), (26, 0)]},
        levers=A,
    ),
    Table(
        "a button is watched",
        ("bs",),
        ("3:A:press",),
        {"1,0,1": [(0, 0), (5, 15), (7, 0), (25, 15), (27, 0)]},
        levers=A,
    ),
    Table(
        "a plate is watched",
        ("os",),
        ("3:A:tread", "9:A:leave"),
        {"1,0,1": [(0, 0), (5, 15), (7, 0), (25, 15), (27, 0)]},
        levers=A,
    ),
    # The first is on at 5 and off at 7; the second, scheduled at 5 for 7, has its entry then, and is on to 9.
    Table(
        "a change-sensor is watched",
        ("vss",),
        on_off("A", 3, 30),
        {"1,0,1": [(0, 0), (5, 15), (7, 0), (32, 15), (34, 0)], "2,0,1": [(0, 0), (7, 15), (9, 0), (34, 15), (36, 0)]},
        levers=A,
    ),
    # On at 3, off at 33; the two things counted from 13 to 23 are not seen.
    Table(
        "a counting plate's level is not visible",
        ("1s",),
        ("3:A:tread", "5:A:tread", "14:A:leave", "25:A:leave"),
        {
            "0,0,1": [(0, 0), (3, 1), (13, 2), (23, 1), (33, 0)],
            "1,0,1": [(0, 0), (5, 15), (7, 0), (35, 15), (37, 0)],
        },
        levers=A,
    ),
    Table(
        "a block's power is not visible",
        ("#s", "v."),
        on_off("A", 3, 10),
        {"0,0,1": [(0, 0), (3, 15), (10, 0)], "1,0,1": [(0, 0)]},
        levers={"A": "0,0,2"},
    ),
    Table(
        "a container's contents are not visible",
        ("Cs",),
        ("3:A:put=9", "9:A:take=9"),
        {"0,0,1": [(0, 0), (3, 9), (9, 0)], "1,0,1": [(0, 0)]},
        levers=A,
    ),
    Table(
        "what stands there is visible",
        ("#s",),
        ("3:A:clear", "10:A:place=insulator", "20:A:place=lamp"),
        {"1,0,1": [(0, 0), (5, 15), (7, 0), (12, 15), (14, 0), (22, 15), (24, 0)]},
        levers=A,
    ),
    # What is put there instead is the same to the eye: only what is in it differs, or nothing.
    Table(
        "a crate that is put in a crate's stead is not visible",
        ("Cs",),
        ("3:A:place=crate items=9", "9:A:place=crate"),
        {"0,0,1": [(0, 0), (3, 9), (9, 0)], "1,0,1": [(0, 0)]},
        levers=A,
    ),
    Table(
        "a lever that is placed as the one before was thrown is not visible",
        ("vs",),
        ("3:A:flip", "12:A:place=lever thrown=yes", "20:A:place=lever"),
        {"0,0,1": [(0, 0), (3, 15), (20, 0)], "1,0,1": [(0, 0), (5, 15), (7, 0), (22, 15), (24, 0)]},
        levers=A,
    ),
    Table(
        "a wire as high as the one before is not visible",
        ("Pws",),
        ("3:A:place=wire", "10:A:clear", "20:A:place=wire"),
        {"1,0,1": [(0, 15), (10, 0), (20, 15)], "2,0,1": [(0, 0), (12, 15), (14, 0), (22, 15), (24, 0)]},
        levers={"A": "1,0,1"},
    ),
    # Watches the lamp below it, powers the lamp above it.
    Table(
        "a sensor that faces up",
        ("vL", ".U", ".L"),
        on_off("A", 3, 10),
        {
            "1,0,2": [(0, 0), (5, 15), (7, 0), (16, 15), (18, 0)],
            "1,0,3": [(0, 0), (5, 15), (11, 0), (16, 15), (22, 0)],
        },
        levers=A,
    ),
    Table(
        "a sensor that faces down",
        ("#L", "#D", "vL"),
        on_off("A", 3, 10),
        {
            "1,0,1": [(0, 0), (5, 15), (7, 0), (16, 15), (18, 0)],
            "1,0,0": [(0, 0), (5, 15), (11, 0), (16, 15), (22, 0)],
        },
        floor=False,
        levers={"A": "0,0,2"},
    ),
    # The wire behind the block hears 15 while the sensor is on.
    Table(
        "a sensor powers the block before it strongly",
        ("vs#w",),
        on_off("A", 3, 20),
        {"3,0,1": [(0, 0), (5, 15), (7, 0), (22, 15), (24, 0)]},
        levers=A,
    ),
    # On at 5 it schedules its end before the comparator is told: at 7, equal priorities, the sensor goes first.
    Table(
        "its pulse is lost in a comparator",
        ("vsc",),
        on_off("A", 3, 20),
        {"1,0,1": [(0, 0), (5, 15), (7, 0), (22, 15), (24, 0)], "2,0,1": [(0, 0)]},
        levers=A,
    ),
    Table("its pulse is lost in a torch", ("vs#T",), on_off("A", 3, 20), {"3,0,1": [(0, 15)]}, levers=A),
    # A repeater of one tick has priority -1: at 7 it goes first, hears the pulse still, and is off two steps later.
    Table(
        "its pulse passes a repeater",
        ("vs>",),
        on_off("A", 3, 20),
        {"2,0,1": [(0, 0), (7, 15), (9, 0), (24, 15), (26, 0)]},
        levers=A,
    ),
]

POWER = [
    Table(
        "a power-block powers lamp and wire beside it",
        ("LPww",),
        (),
        {"0,0,1": [(0, 15)], "2,0,1": [(0, 15)], "3,0,1": [(0, 14)], "1,0,1": [(0, 15)]},
    ),
    Table("a power-block powers no block", ("P#L",), (), {"1,0,1": [(0, 0)], "2,0,1": [(0, 0)]}),
    Table(
        "a power-block behind a repeater and a comparator",
        ("P4/Pc",),
        (),
        {"1,0,1": [(0, 0), (8, 15)], "1,1,1": [(0, 0), (2, 15)]},
    ),
    # The cell it is fixed to gives it power.
    Table("a torch on a power-block goes off", ("PT",), (), {"1,0,1": [(0, 15), (2, 0)]}),
    # Wire, block, lamp: weak power reaches the lamp; through an insulator nothing does.
    Table(
        "a block passes weak power to a lamp",
        ("vw#L",),
        on_off("A", 3, 10),
        {"2,0,1": [(0, 0), (3, 15), (10, 0)], "3,0,1": [(0, 0), (3, 15), (14, 0)]},
        levers=A,
    ),
    Table(
        "an insulator passes nothing", ("vwiL",), on_off("A", 3, 10), {"2,0,1": [(0, 0)], "3,0,1": [(0, 0)]}, levers=A
    ),
    Table(
        "an insulator passes nothing strong",
        ("v>iL",),
        on_off("A", 3, 10),
        {"2,0,1": [(0, 0)], "3,0,1": [(0, 0)]},
        levers=A,
    ),
    # A wire hears strong power only.
    Table(
        "a wire does not hear weak power",
        ("vw#w",),
        on_off("A", 3, 10),
        {"2,0,1": [(0, 0), (3, 15), (10, 0)], "3,0,1": [(0, 0)]},
        levers=A,
    ),
    Table(
        "a wire hears strong power",
        ("v>#ww",),
        on_off("A", 3, 10),
        {"2,0,1": [(0, 0), (5, 15), (12, 0)], "3,0,1": [(0, 0), (5, 15), (12, 0)], "4,0,1": [(0, 0), (5, 14), (12, 0)]},
        levers=A,
    ),
    # A comparator's 13 through a block: the wire behind it has 13.
    Table(
        "strong power has a level",
        ("vwwwc#w",),
        on_off("A", 3, 10),
        {"5,0,1": [(0, 0), (5, 13), (12, 0)], "6,0,1": [(0, 0), (5, 13), (12, 0)]},
        levers=A,
    ),
    # Power does not go from block to block.
    Table(
        "a powered block powers no block",
        ("v>##L",),
        on_off("A", 3, 10),
        {"2,0,1": [(0, 0), (5, 15), (12, 0)], "3,0,1": [(0, 0)], "4,0,1": [(0, 0)]},
        levers=A,
    ),
]

START = [
    # The lit torch is heard from step 0 on: repeaters on after their delays, the comparator after 2.
    Table(
        "what a torch feeds at the start",
        ("t>/t4/tc",),
        (),
        {"1,0,1": [(0, 0), (2, 15)], "1,1,1": [(0, 0), (8, 15)], "1,2,1": [(0, 0), (2, 15)], "0,0,1": [(0, 15)]},
    ),
    Table(
        "what a thrown lever feeds at the start",
        ("Vw4L",),
        ("20:A:flip",),
        {"1,0,1": [(0, 15), (20, 0)], "2,0,1": [(0, 0), (8, 15), (28, 0)], "3,0,1": [(0, 0), (8, 15), (32, 0)]},
        levers=A,
    ),
    # No sensor sees the wires settle.
    Table("the settling wires are not seen", ("Vws",), (), {"1,0,1": [(0, 15)], "2,0,1": [(0, 0)]}),
    # The lamp lights at the start, which is a change: seen in step 0, on at 2, off at 4.
    Table(
        "a lamp that lights at the start is seen",
        ("VLs",),
        (),
        {"1,0,1": [(0, 15)], "2,0,1": [(0, 0), (2, 15), (4, 0)]},
    ),
]

TABLES = {
    "wire": WIRE, "repeater": REPEATER, "lock": LOCK, "comparator": COMPARATOR, "torch": TORCH, "lamp": LAMP,
    "hand": HAND, "plate": PLATE, "sensor": SENSOR, "power": POWER, "start": START,
}  # fmt: skip
CASES = [
    pytest.param(table, rules, id=f"{part}: {table.name} ({rules})")
    for part, tables in TABLES.items()
    for table in tables
    for rules in table.rules
]


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize(("table", "rules"), CASES)
def test_step_table(table: Table, rules: str, engine: str) -> None:
    watch = {cell: as_cell(cell) for cell in table.expected}
    result = run(table.plan(), table.script(), table.steps, rules=rules, engine=engine, watch=watch)
    assert {cell: list(result.trace.changes[cell]) for cell in table.expected} == table.expected


def test_a_burnt_out_torch_is_reported() -> None:
    table = next(table for table in TORCH if table.name == "a torch burns out")
    findings = run(table.plan(), table.script(), 300, watch={"torch": (3, 0, 1)}).findings
    assert [(finding.code, finding.cells, finding.steps) for finding in findings] == [
        ("torch-burns-out", ((3, 0, 1),), (64,)),
    ]
