"""Netlists: read from BLIF or Verilog, kept as a logic network, mapped to the gates that tiles can be.

Imports the leaves only.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.lazy import lazy_exports
from tickwright.netlist.network import Cover, Latch, Network

if TYPE_CHECKING:
    from tickwright.netlist.blif import parse_blif
    from tickwright.netlist.mapping import Gate, Mapped, map_network
    from tickwright.netlist.names import plan_names
    from tickwright.netlist.reading import read_netlist

__all__ = [
    "Cover",
    "Gate",
    "Latch",
    "Mapped",
    "Network",
    "map_network",
    "parse_blif",
    "plan_names",
    "read_netlist",
]

__getattr__ = lazy_exports(
    __name__,
    {
        "blif": ("parse_blif",),
        "mapping": ("Gate", "Mapped", "map_network"),
        "names": ("plan_names",),
        "reading": ("read_netlist",),
    },
)
