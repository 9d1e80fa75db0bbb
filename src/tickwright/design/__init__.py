"""Makes plans that do what is wanted: families of circuits with numbers to choose, the chooser among them, the tuner.

Imports up to `diagnose`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.late import late_exports

if TYPE_CHECKING:
    from tickwright.design.choosing import Chosen, choose
    from tickwright.design.fitting import fit, fits, in_room
    from tickwright.design.routing import Routing, route
    from tickwright.design.table import TABLE_TRIGGERS, table_ranges, table_text
    from tickwright.design.tuning import KnobRow, Tuned, Tuning, knob_table, tune
    from tickwright.design.wish import ANSWERS, OUTPUTS_WANTED, TRIGGERS, Design, Fit, Room, Wish

__all__ = [
    "ANSWERS",
    "OUTPUTS_WANTED",
    "TABLE_TRIGGERS",
    "TRIGGERS",
    "Chosen",
    "Design",
    "Fit",
    "KnobRow",
    "Room",
    "Routing",
    "Tuned",
    "Tuning",
    "Wish",
    "choose",
    "fit",
    "fits",
    "in_room",
    "knob_table",
    "route",
    "table_ranges",
    "table_text",
    "tune",
]

__getattr__ = late_exports(
    __name__,
    {
        "choosing": ("Chosen", "choose"),
        "fitting": ("fit", "fits", "in_room"),
        "routing": ("Routing", "route"),
        "table": ("TABLE_TRIGGERS", "table_ranges", "table_text"),
        "tuning": ("KnobRow", "Tuned", "Tuning", "knob_table", "tune"),
        "wish": ("ANSWERS", "OUTPUTS_WANTED", "TRIGGERS", "Design", "Fit", "Room", "Wish"),
    },
)
