"""Makes plans that do what is wanted: families of circuits with numbers to choose, the chooser among them, the tuner.

Imports up to `diagnose`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.late import late_exports

if TYPE_CHECKING:
    from tickwright.design.routing import Routing, route
    from tickwright.design.tuning import KnobRow, Tuned, Tuning, tune
    from tickwright.design.wish import Room

__all__ = [
    "KnobRow",
    "Room",
    "Routing",
    "Tuned",
    "Tuning",
    "route",
    "tune",
]

__getattr__ = late_exports(
    __name__,
    {
        "wish": ("Room",),
        "routing": ("Routing", "route"),
        "tuning": ("KnobRow", "Tuned", "Tuning", "tune"),
    },
)
