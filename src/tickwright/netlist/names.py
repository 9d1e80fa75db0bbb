"""Names of a netlist as a plan can have them."""

from __future__ import annotations

import re
from collections.abc import Iterable

LONGEST = 60


def plan_names(names: Iterable[str]) -> dict[str, str]:
    """For each name the one it has in a plan: letters, digits, - and _ stay, the rest becomes _; clashes get a number.

    >>> plan_names(["a[0]", "a_0", "clk", "$1"])
    {'a[0]': 'a_0-2', 'a_0': 'a_0', 'clk': 'clk', '$1': '1'}
    """
    wanted = list(dict.fromkeys(names))
    plain = {name: re.sub(r"[^A-Za-z0-9_-]+", "_", name)[:LONGEST] for name in wanted}
    found = {name: name for name in wanted if plain[name] == name}
    taken = set(found)
    for name in wanted:
        if name in found:
            continue
        base = plain[name].strip("_") or "n"
        fresh, number = base, 2
        while fresh in taken:
            fresh, number = f"{base}-{number}", number + 1
        found[name] = fresh
        taken.add(fresh)
    return {name: found[name] for name in wanted}
