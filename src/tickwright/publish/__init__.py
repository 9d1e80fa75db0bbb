"""Pages, pictures and files made of plans, traces and dossiers, without running an engine.

Imports the leaves and whatever comes before it in the order of imports, for its data; never an engine's `run`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.late import late_exports

if TYPE_CHECKING:
    from tickwright.publish.dossier_text import Table, dossier_tables, expectation_lines, hold_text, press_text
    from tickwright.publish.tables import bill_csv, levels_csv
    from tickwright.publish.waveform import lanes, vcd_names, vcd_text

__all__ = [
    "Table",
    "bill_csv",
    "dossier_tables",
    "expectation_lines",
    "hold_text",
    "lanes",
    "levels_csv",
    "press_text",
    "vcd_names",
    "vcd_text",
]

__getattr__ = late_exports(
    __name__,
    {
        "dossier_text": ("Table", "dossier_tables", "expectation_lines", "hold_text", "press_text"),
        "tables": ("bill_csv", "levels_csv"),
        "waveform": ("lanes", "vcd_names", "vcd_text"),
    },
)
