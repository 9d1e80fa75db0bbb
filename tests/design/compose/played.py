"""Plans played: when their outputs are away from rest."""

from __future__ import annotations

from tickwright.engine import run


def spans(plan, acts, zero, steps, rules="standard", engine="reference"):
    """Of each output when it is away from what it shows at step 0, in steps from `zero`, as acts are: (step, act)."""
    texts = [f"{zero + step}:{who}" for step, who in acts]
    changes = run(plan, texts, zero + steps, rules, engine=engine).trace.changes
    found = {}
    for name, values in changes.items():
        edges = [
            step - zero for (step, new), (_, old) in zip(values[1:], values, strict=False) if bool(new) != bool(old)
        ]
        found[name] = [tuple(edges[place : place + 2]) for place in range(0, len(edges), 2)]
    return found
