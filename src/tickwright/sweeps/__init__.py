"""Sweeps: a grid of plans, rule sets, stimuli and parameters, run on all cores or a cluster, kept in one SQLite file.

`gridding` makes the points, `results` keeps what came of them, `workers` runs them. Imports up to `measure`; sqlite3,
processes and dask.distributed only when a sweep begins.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.lazy import lazy_exports

if TYPE_CHECKING:
    from tickwright.sweeps.gridding import grid
    from tickwright.sweeps.points import Point, Row
    from tickwright.sweeps.sweeping import left, recorded, sweep

__all__ = ["Point", "Row", "grid", "left", "recorded", "sweep"]

__getattr__ = lazy_exports(
    __name__, {"gridding": ("grid",), "points": ("Point", "Row"), "sweeping": ("left", "recorded", "sweep")}
)
