"""The rules whose coverage the random worlds count, by name, in the words of the rules."""

from __future__ import annotations

RULES: dict[str, str] = {}  # name -> what is counted under it


def _rules(section: str, texts: str) -> None:
    for line in texts.strip().splitlines():
        name, _, text = line.strip().partition(": ")
        RULES[name] = f"{section}: {text}"


_rules(
    "order",
    """
    priority-tie: parts due in one step that act by priority, not by order of scheduling
    serial-tie: parts due in one step with one priority, by order of scheduling
    outstanding: a part with an entry outstanding was not scheduled again
    start-schedules: what is told at the start schedules
    lamp-seen: a lamp that lights while being told is seen by a sensor or told to a piston
    order-matters: another order of telling gives another trace
    rules-matter: the other rule set gives another trace
    """,
)
_rules(
    "wire",
    """
    climb-conductor: level in a wire on a conducting cell beside a lower wire
    climb-insulator: level in a lower wire that climbs to one on a cell that does not conduct
    no-way-down: level in an upper wire whose carrier does not conduct, the lower one without
    roof: a conducting cell above a lower wire cuts it from the wire beside it on a block
    points-all: a wire with level and no joins
    points-axis: a wire with level and joins on one axis
    points-corner: a wire with level and joins on both axes
    strong-by-repeater: a block powered strongly by a repeater
    strong-by-comparator: a block powered strongly by a comparator
    strong-by-sensor: a block powered strongly by a change-sensor
    strong-by-torch: a block powered strongly by a torch below
    strong-by-lever: a block powered strongly by a lever
    strong-by-button: a block powered strongly by a button
    strong-by-plate: a block powered strongly by a plate
    weak-power: a block powered weakly by a wire with level
    wire-deaf-to-weak: a wire beside a weakly powered block stays without level
    power-block: a power-block is heard
    """,
)
_rules(
    "repeater",
    """
    repeater-on: goes on
    repeater-off: goes off
    repeater-delay-2: acts after two ticks
    repeater-delay-3: acts after three ticks
    repeater-delay-4: acts after four ticks
    repeater-ahead: schedules with a repeater or comparator ahead
    repeater-head-on: schedules with a repeater or comparator ahead that faces head-on into it
    repeater-stretches: goes on though its input has gone, and schedules off
    repeater-swallows: due while on and powered again
    locked-told: locked with input and state at odds
    locked-due: locked while due
    locked-by-comparator: locked by a comparator
    lock-released: not locked any more, with input and state at odds
    """,
)
_rules(
    "comparator",
    """
    threshold-passes: shows its rear level
    threshold-shuts: rear below flank, shows 0
    threshold-equal: rear equal to flank, shows it
    difference: shows rear less flank, both above 0
    comparator-ahead: schedules with a repeater or comparator ahead
    comparator-loses: due, and what it computes then is what it shows
    comparator-changes: shows another level than the one that made it schedule
    flank-wire: a flank hears a wire
    flank-repeater: a flank hears a repeater
    flank-comparator: a flank hears a comparator
    flank-sensor: a flank hears a change-sensor
    flank-power-block: a flank hears a power-block
    reads-container: reads a container behind it
    reads-through: reads a container behind a conducting cell
    reads-instead: a container behind a conducting cell replaces a lower or higher rear level
    rear-full: a rear level of 15 keeps the container from being read
    """,
)
_rules(
    "torch",
    """
    torch-off: goes off
    torch-on: goes on
    torch-keeps: due, and should not change any more
    torch-side: one on a side acts
    burn-out: burns out
    burnt-deaf: told while burnt out
    burnt-lights: lights after its rest
    burnt-stays: still powered after its rest
    """,
)
_rules(
    "lamp, hand parts, plates",
    """
    lamp-lights: lights at once
    lamp-dark: goes dark when due
    lamp-keeps: due, and powered again
    lever: thrown
    short-button: pressed
    long-button: pressed
    button-deaf: pressed while pressed
    button-releases: releases
    item-plate: goes on
    tread-plate: goes on
    tread-plate-deaf: a tread-plate with items and no creature
    counting-plate: counts by 1
    counting-plate-10: counts by 10
    plate-keeps: looks again and changes nothing
    plate-changes: looks again and shows another level
    plate-releases: looks again and releases
    """,
)
_rules(
    "change-sensor",
    """
    sensor-pulses: goes on and schedules its end
    sensor-busy: told while on
    sensor-vertical: one that faces up or down acts
    flicker: told of a wire that ends the step as it began it
    sees-wire: told of a wire's level
    sees-repeater: told of a repeater
    sees-comparator: told of a comparator
    sees-torch: told of a torch
    sees-lamp: told of a lamp
    sees-lever: told of a lever
    sees-button: told of a button
    sees-plate: told of a plate
    sees-sensor: told of a sensor
    sees-piston: told of a piston
    sees-stand: told of what stands in a cell
    unseen-level: a comparator's or counting plate's level changes while on, with a sensor on it
    """,
)
_rules(
    "items",
    """
    push: a hopper pushes
    pull: a hopper pulls from a container
    pull-stack: a hopper pulls from a stack in the open
    push-and-pull: a hopper does both in one turn
    pair-moves-two: a hopper is pushed into and pulls from the same hopper in one step
    first-wait: an empty hopper is pushed into by another
    no-room: a hopper with items has no room to push into
    hopper-locked: a hopper's turn comes while it is powered
    locked-filled: a locked hopper is filled
    locked-emptied: a locked hopper is pulled from
    eject-container: an ejector into a container
    eject-plate: an ejector onto a plate
    eject-open: an ejector into the open
    eject-full: an ejector into a full container
    eject-blocked: an ejector against something else
    eject-empty: an empty ejector
    eject-edge-lost: an ejector powered anew while an entry is outstanding
    falls: a stack falls before it rests
    rests-at-once: a stack rests in the cell it was let go in
    falls-past-standing: a stack falls through a standing part
    lost: a stack falls out of the world
    two-stacks: two stacks rest in one cell
    vanishes: a stack vanishes
    """,
)
_rules(
    "pistons",
    """
    extends: extends with nothing to push
    pushes: pushes one or more cells
    pushes-many: pushes eleven or twelve cells
    too-many: a thirteenth cell in the way
    blocked: something that cannot be pushed in the way
    blocked-moving: a cell on the move or an arm in the way
    push-breaks: a standing part in the way breaks
    support-lost: a standing part breaks when its support leaves or is taken
    retracts: goes back
    pulls: a pull-piston pulls
    cannot-pull: a pull-piston before something it cannot pull
    left-behind: goes back before its push has landed
    no-cell-push: a pull-piston goes back soon after a push that moved no cell
    dropped: a queued move whose cause has gone
    queued-while-moving: a move queued while moves start
    from-above: powered only by way of the cell above it
    not-told: power and state differ after a step, and no move is queued
    pushes-sensor: a sensor that is on is moved, and lands off
    loses-entry: a cell is moved and loses its entry
    pushes-piston: a piston is moved
    lands: a cell lands
    moves-vertical: a piston that faces up or down moves
    """,
)
_rules(
    "hand",
    """
    hand-put: put
    hand-take: take
    hand-drop: drop
    hand-tread: tread
    hand-leave: leave
    hand-place: place
    hand-clear: clear
    hand-clipped: put or take of more than fits
    hand-refused: an act that cannot be done now
    hand-usual: an act without a verb
    hand-on-move: an act on an arm or a cell on the move
    hand-clears-out: an extended piston is taken away, its arm with it
    """,
)
