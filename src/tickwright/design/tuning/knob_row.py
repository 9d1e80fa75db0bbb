"""What a knob of a plan does, value by value."""

from __future__ import annotations

from typing import Any, NamedTuple

from tickwright.design.tuning.changes import Knob
from tickwright.kinds import part_text


class KnobRow(NamedTuple):
    """What a knob does: value, hold, kind of answer, and delay, in steps or None if there is none, each from a run."""

    knob: Knob
    holds: tuple[tuple[int, int | None, str, int | None], ...]

    @property
    def setting_text(self) -> str:
        """What is set, with its unit."""
        return "delay, ticks" if self.knob.setting == "delay" else self.knob.setting

    def as_data(self) -> dict[str, Any]:
        """The row as JSON shows it."""
        return {
            "cell": list(self.knob.cell),
            "part": part_text(self.knob.part),
            "setting": self.knob.setting,
            "value": self.knob.value,
            "holds": [
                {"value": value, "hold_steps": hold, "kind": kind, "delay_steps": delay}
                for value, hold, kind, delay in self.holds
            ],
        }
