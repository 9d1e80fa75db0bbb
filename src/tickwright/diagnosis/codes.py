"""The one table of findings: what each code means, why it happens, and what helps.

Help, the troubleshooting guide and the self-checks derive from CODES; the circuits that show each are in `cases`.
"""

from __future__ import annotations

from typing import NamedTuple

from tickwright.errors import UsageError, near


class Code(NamedTuple):
    """One sort of finding: its severity, a title, what it means, why it happens and what helps, in whole sentences."""

    code: str
    severity: str
    title: str
    cause: str
    helps: str


_TABLE = (
    Code(
        "trigger-too-short",
        "warning",
        "The trigger is shorter than the loop",
        "A loop of comparators holds its level only if the pulse that charges it lasts at least one turn: a tick for "
        "each comparator, and the delay of each repeater. A shorter pulse leaves a gap, and level and gap run round "
        "together: the output pulses like a clock until the level has faded.",
        "Make the pulse longer: a long button, or parallel taps, which join the pulse with a later copy of itself. A "
        "slower repeater in the feed does not help: it moves the pulse and makes it no longer. Or make the loop "
        "shorter.",
    ),
    Code(
        "level-dies-in-loop",
        "warning",
        "The level dies before the loop closes",
        "Each cell of wire after the first takes a level. If the wires of a loop take fifteen or more between two "
        "repeaters, or in all if there is none, nothing comes round: the loop holds no longer than its trigger.",
        "Put comparators in the place of wires: from wire through comparator to wire nothing is lost.",
    ),
    Code(
        "loop-never-fades",
        "warning",
        "The loop never fades",
        "The level comes round as high as it went in: no wire of the loop is longer than a cell, or a repeater gives "
        "15 anew each turn. So a turn costs no level (the max-plus mean of the loop, what its level gains or loses in "
        "a step, is 0), and nothing ever ends the hold.",
        "Let a turn cost at least one level: a comparator for each repeater, and one wire of two cells or more.",
    ),
    Code(
        "wires-joined",
        "warning",
        "Wires that run side by side are joined",
        "Wires in neighbouring cells always join, and so does a wire with one on a block beside it, unless a "
        "conducting block lies above the lower one. Two lines, each with a source and a listener of its own, then "
        "work as one.",
        "Lead the lines a cell apart, put a repeater along one line where they touch (wires do not join its flank), "
        "or put a block above the lower wire where one climbs to the other.",
    ),
    Code(
        "climbing-wire-feeds-comparator",
        "info",
        "A comparator hears a block that a climbing wire powers",
        "Rule sets differ in this: under `standard` a wire powers the block that it climbs, under `older-wire` it "
        "does not, unless it also runs straight at it. So the comparator hears one level more under one than under "
        "the other, and a loop may fade here and never there.",
        "Let the wire run straight at the comparator, without a climb.",
    ),
    Code(
        "short-pulse-lost",
        "warning",
        "A pulse of one tick is lost",
        "A comparator or torch looks a tick after it was told, and shows what it sees then. A pulse of one tick from "
        "a repeater or a change-sensor is over by then: they are due together, and the repeater goes first.",
        "Give the repeater two ticks, which makes a shorter pulse two ticks long, or put such a repeater in between.",
    ),
    Code(
        "torch-burns-out",
        "warning",
        "A torch burns out",
        "A torch that goes off eight times within 60 steps stays dark for 160 steps, and then goes on as if nothing "
        "had been. A fast clock or a torch that feeds itself does that.",
        "Slow down what switches it: raise the delays of the repeaters in its ring, or put one in.",
    ),
    Code(
        "repeater-locked-for-good",
        "warning",
        "A repeater is locked for good",
        "A repeater or comparator that is on and faces into the flank of another repeater freezes it. If that one "
        "never goes off, in no run of a press, the repeater might as well not be there.",
        "Turn or take away what faces into its flank, or what keeps that on.",
    ),
    Code(
        "output-unreached",
        "error",
        "No trigger reaches the output",
        "On no way through wires, blocks and parts does anything that a trigger changes come to the output. A part "
        "may face the wrong way, a cell of wire may be missing, or an insulator stands where a block should.",
        "Turn the part that faces away, or close the gap.",
    ),
    Code(
        "output-too-far",
        "error",
        "The level dies on the way to the output",
        "A wire takes a level for every cell after the first. Fifteen cells after its source nothing is left, and "
        "what listens there hears nothing although the wire leads to it.",
        "Regenerate: put a repeater into the wire before the level has gone.",
    ),
    Code(
        "never-powered",
        "error",
        "A wire passes it",
        "No power leads to the part, although a wire lies beside it: a wire powers only what it points at. With joins "
        "on one axis it points both ways along it, else to every side that is joined; lamps, pistons and containers "
        "draw no join, so that a wire may bend, or run past them.",
        "Take away what bends the wire, so that it runs straight at the part, or lead a wire on top of a lamp.",
    ),
    Code(
        "ring-not-closed",
        "warning",
        "A ring does not close",
        "One cell of wire more, or one part turned, would make a ring of these parts; as it is the signal goes once "
        "through them and ends. A loop with such a gap holds no longer than its trigger.",
        "Lay the wire that is missing, or turn the part that faces away from the ring.",
    ),
    Code(
        "heard-by-nobody",
        "warning",
        "Nothing hears it",
        "The output of a repeater or comparator goes to the cell before it. That is empty, or what stands there does "
        "not listen at that side, or the wire there leads to nothing that listens.",
        "Lay the wire that is missing, turn the part, or take it away.",
    ),
    Code(
        "neighbour-too-near",
        "warning",
        "A neighbour stands too near",
        "Two copies of a circuit, named alike but for a number at the end, touch: a press of one changes an output of "
        "the other.",
        "Move one of them away. `tickwright measure --full` says from which pitch on copies stand apart.",
    ),
    Code(
        "order-sensitive",
        "warning",
        "The answer hangs on a tie",
        "Parts are due in the same step, and which goes first decides what comes of it. That order is a convention "
        "which no builder can choose: turned, mirrored or moved, the circuit may do something else.",
        "Separate the parts that tie: give one of them a tick more.",
    ),
    Code(
        "container-never-fills",
        "warning",
        "A container is never filled",
        "A hopper or ejector points into it, but not one item came in any run: the one that points is empty, locked "
        "by power, or never powered.",
        "Put items where they should come from, or free the hopper: a powered hopper stands still.",
    ),
    Code(
        "container-never-drains",
        "warning",
        "A hopper never drains",
        "It holds items and not one left in any run: it is powered, which locks it, or no container with room is "
        "where it pushes.",
        "Take the power away, turn the hopper towards the container, or put one there.",
    ),
    Code(
        "piston-blocked",
        "warning",
        "A piston cannot extend",
        "In the row before it stands something that cannot be pushed (a container, a piston at work, an arm), or more "
        "than twelve cells. Then nothing moves and nothing breaks.",
        "Clear the row, or put something there that can be pushed.",
    ),
    Code(
        "piston-cannot-pull",
        "warning",
        "A pull-piston cannot pull",
        "What stands before its arm cannot be moved: a container, or a piston at work. It comes back alone.",
        "Put a block, a lamp or another movable cell there.",
    ),
    Code(
        "cell-left-behind",
        "warning",
        "A pull-piston leaves its cell behind",
        "It was told to go back within the two steps that its push takes: the pushed cell lands where it was going, "
        "and the arm comes back without it. The next stroke then pushes nothing.",
        "Make its pulse longer than two steps, with a repeater of two ticks before it.",
    ),
    Code(
        "part-broke",
        "error",
        "A part broke",
        "Something was pushed into a standing part, or what it stood on moved away. The run goes on without it.",
        "Keep standing parts out of the way of pistons, and off what they move.",
    ),
    Code(
        "item-lost",
        "warning",
        "Items fell out of the world",
        "An item was let go where nothing below stops it.",
        "Put a floor, a plate or a container below.",
    ),
    Code(
        "lamp-flashes",
        "warning",
        "A lamp flashes more than three times a second",
        "Within one second, at 20 steps a second, the lamp comes on more than three times. Flashing above three a "
        "second can bring on seizures in people who are sensitive to it (WCAG 2.2, success criterion 2.3.1). A lamp "
        "that glows on, as under `standard`, hides gaps of four steps and less.",
        "Slow it down to a period of seven steps or more, or cover the lamp. Warn others before you show it.",
    ),
    Code(
        "claim-not-kept",
        "error",
        "A claim of a chart is not kept",
        "A chart of the plan says what an output shows over time, or what a further press does, and in the run of the "
        "chart's hand it does otherwise: earlier or later, longer or shorter, once too often, or not at all. Where a "
        "claim counts from another output that is itself at fault, mend that one first: it says which it follows.",
        "Set the delays on the way to the output, or let tickwright tune PLAN --chart NAME find the smallest changes. "
        "Or change the claim, if what the circuit does is good enough: give or take says how far off an edge may be.",
    ),
    Code(
        "act-refused",
        "warning",
        "An act of the hand did nothing",
        "At that moment it could not be done: the part had gone, nothing lay there to take, or nothing carried what "
        "was placed.",
        "Choose another step, or another cell.",
    ),
    Code(
        "act-after-end",
        "warning",
        "An act comes after the end of the run",
        "The run was shorter than the script of the hand.",
        "Run for longer, or act sooner.",
    ),
)
CODES: dict[str, Code] = {entry.code: entry for entry in _TABLE}


def find_code(code: str) -> Code:
    """The entry of that code; a UsageError names the near ones if there is none.

    >>> find_code("lamp-flashes").severity
    'warning'
    """
    if code not in CODES:
        raise UsageError(f'There is no finding "{code}".{near(code, CODES)}')
    return CODES[code]
