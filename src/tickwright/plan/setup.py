"""A setup: the plan that is run, under which rules, and in which order parts are notified."""

from __future__ import annotations

from typing import NamedTuple

from tickwright.plan.model import Plan
from tickwright.rules.ruleset import RuleSet


class Setup(NamedTuple):
    """A `plan` under `rules`; `order` is "canonical", "reversed" or the seed of a shuffled order, as text.

    What runs, measures or judges a plan takes one of these; what a user calls takes the three by themselves.
    """

    plan: Plan
    rules: RuleSet
    order: str = "canonical"
