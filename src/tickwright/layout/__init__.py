"""Lays tiles in a room and routes the nets between them; accepts only what hears just what it should.

Imports up to `diagnosis`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.layout.model import Instance, Layout, Net, Pin, Port, Tile
from tickwright.lazy import lazy_exports

if TYPE_CHECKING:
    from tickwright.layout.characterising import Characteristics, characterise
    from tickwright.layout.hearing import Laid, hearing_faults
    from tickwright.layout.laying import Told, lay, route
    from tickwright.layout.placed import Placed, place_network
    from tickwright.layout.tiles import named_tile

__all__ = [
    "Characteristics",
    "Instance",
    "Laid",
    "Layout",
    "Net",
    "Pin",
    "Placed",
    "Port",
    "Tile",
    "Told",
    "characterise",
    "hearing_faults",
    "lay",
    "named_tile",
    "place_network",
    "route",
]

__getattr__ = lazy_exports(
    __name__,
    {
        "characterising": ("Characteristics", "characterise"),
        "hearing": ("Laid", "hearing_faults"),
        "laying": ("Told", "lay", "route"),
        "placed": ("Placed", "place_network"),
        "tiles": ("named_tile",),
    },
)
