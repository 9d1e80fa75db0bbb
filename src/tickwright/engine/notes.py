"""What the engines note of a run as it goes: one finding for each sort and place, with all its steps."""

from __future__ import annotations

from tickwright.findings import Finding, Repair
from tickwright.space import Cell

MOST_STEPS = 100


class Notes:
    """Collects findings; what happens again at the same place adds its step to the finding there is."""

    def __init__(self) -> None:
        self._found: dict[tuple[str, tuple[Cell, ...], str], tuple[Finding, list[int]]] = {}

    def add(self, code: str, severity: str, message: str, cells: tuple[Cell, ...], step: int, repair: str = "") -> None:
        """Note a finding at a step; of one that recurs, the first hundred steps are kept."""
        key = (code, cells, message)
        if key not in self._found:
            self._found[key] = (Finding(code, severity, message, cells, (), Repair(repair) if repair else None), [])
        steps = self._found[key][1]
        if len(steps) < MOST_STEPS:
            steps.append(step)

    def copy(self) -> Notes:
        """The same notes, to go on separately."""
        clone = Notes()
        clone.__dict__["_found"] = {key: (finding, steps.copy()) for key, (finding, steps) in self._found.items()}
        return clone

    def findings(self) -> tuple[Finding, ...]:
        """All findings, in the order in which they first came up."""
        return tuple(finding._replace(steps=tuple(steps)) for finding, steps in self._found.values())
