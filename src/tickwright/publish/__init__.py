"""Pages, pictures and files made of plans, traces and dossiers, without running an engine.

Imports the leaves and whatever comes before it in the order of imports, for its data; never an engine's `run`.
"""

from tickwright.publish.tables import bill_csv, levels_csv
from tickwright.publish.waveform import lanes, vcd_names, vcd_text

__all__ = ["bill_csv", "lanes", "levels_csv", "vcd_names", "vcd_text"]
