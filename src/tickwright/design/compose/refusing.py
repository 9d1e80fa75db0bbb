"""What cannot be had: the claim, why, and the least that it would take."""

from __future__ import annotations

from dataclasses import dataclass

from tickwright.charts.notation import Claim


@dataclass(frozen=True, slots=True)
class Relaxation:
    """A claim as it could be had, and by how many steps that differs from what was asked."""

    claim: str
    instead: str
    amount_steps: int


class Refusal(Exception):
    """A brief that cannot be composed as it stands: the claim, the reason, and what to write instead."""

    def __init__(self, claim: str, why: str, relax: tuple[Relaxation, ...] = ()) -> None:
        super().__init__(f'"{claim}": {why}')
        self.claim = claim
        self.why = why
        self.relax = relax


def refuse(claim: Claim, why: str, instead: str | None = None, amount_steps: int = 0) -> Refusal:
    """A refusal of one claim, with one relaxation if there is one."""
    relax = (Relaxation(claim.text, instead, amount_steps),) if instead is not None else ()
    return Refusal(claim.text, why, relax)
