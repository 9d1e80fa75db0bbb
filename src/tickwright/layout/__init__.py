"""Lays tiles in a room and routes the nets between them; accepts only what hears just what it should.

Imports up to `diagnosis`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.layout.model import Instance, Layout, Net, Pin, Port, Tile
from tickwright.lazy import lazy_exports

if TYPE_CHECKING:
    from tickwright.layout.hearing import hearing_faults
    from tickwright.layout.laying import Told, lay, route
    from tickwright.layout.placed import Placed, place_network

__all__ = [
    "Instance",
    "Layout",
    "Net",
    "Pin",
    "Placed",
    "Port",
    "Tile",
    "Told",
    "hearing_faults",
    "lay",
    "place_network",
    "route",
]

__getattr__ = lazy_exports(
    __name__,
    {"hearing": ("hearing_faults",), "laying": ("Told", "lay", "route"), "placed": ("Placed", "place_network")},
)
