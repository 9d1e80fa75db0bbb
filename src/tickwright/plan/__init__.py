"""Plans: the immutable Plan, plan files, edits and scripts of the hand. Imports the leaves and `rules`."""

from tickwright.plan.model import Expectation, Plan

__all__ = ["Expectation", "Plan"]
