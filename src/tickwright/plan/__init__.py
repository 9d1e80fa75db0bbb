"""Plans: the immutable Plan, plan files, edits and scripts of the hand. Imports the leaves and `rules`."""

from tickwright.plan.files import load, loads
from tickwright.plan.model import Expectation, Plan
from tickwright.plan.validate import validate

__all__ = ["Expectation", "Plan", "load", "loads", "validate"]
