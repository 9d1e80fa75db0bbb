"""The whole dynamic state of a simulation as a value that does not depend on the date.

Two simulations of one plan under the same rules and order, with equal keys and the same acts still to come, go on alike
for ever: so a key that comes back is the proof of a clock.
"""

from __future__ import annotations

from collections.abc import Hashable

from tickwright.engine.reference.simulation import Simulation


def state_key(sim: Simulation) -> Hashable:
    """All that decides what happens from the end of the present step on: times as remaining steps, serials as ranks."""
    now = sim.now
    events = sorted(event for event in sim.events if sim.outstanding.get(event.cell) is event)
    window = sim.rules.torch.burnout_window
    matter = sim.matter
    stacks = [stack for here in matter.resting.values() for stack in here]
    stacks += [flight[2] for flight in matter.flights]
    return (
        frozenset((cell, level) for cell, level in sim.level.items() if level),
        tuple(sim.count.items()),
        tuple((event.due - now, event.priority, event.cell) for event in events),
        frozenset(
            (cell, tuple(now - off for off in offs if now - off <= window))
            for cell, offs in sim.torches.switch_offs.items()
            if now - offs[-1] <= window
        ),
        frozenset(sim.torches.burnt),
        frozenset(sim.ejector_powered),
        sim.configuration(),
        tuple(sim.moves.queue),
        tuple(
            (move.lands - now, move.piston, tuple(move.goals), tuple(move.levels), move.retracted)
            for move in sim.moves.underway
        ),
        tuple((s.cell, s.number, s.vanishes - now) for s in sorted(stacks, key=lambda stack: stack.serial)),
        tuple(at - now for at, _, _ in sorted(matter.flights, key=lambda flight: flight[:2])),
        frozenset((cell, number) for cell, number in matter.creatures.items() if number),
        frozenset((cell, ready - now) for cell, ready in matter.ready.items() if ready > now),
        frozenset((cell, at - now) for cell, at in matter.turns.items()),
        frozenset((cell, (now - since) % sim.look_every(cell)) for cell, since in matter.on_since.items()),
        frozenset((cell, at - now) for cell, at in matter.looks.items()),
    )
