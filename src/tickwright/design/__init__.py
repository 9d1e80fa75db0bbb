"""Makes plans that do what is wanted: families of circuits with numbers to choose, the chooser among them, the tuner.

Imports up to `diagnose`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.late import late_exports

if TYPE_CHECKING:
    from tickwright.design.tuning import KnobRow, Tuned, Tuning, tune

__all__ = [
    "KnobRow",
    "Tuned",
    "Tuning",
    "tune",
]

__getattr__ = late_exports(
    __name__,
    {
        "tuning": ("KnobRow", "Tuned", "Tuning", "tune"),
    },
)
