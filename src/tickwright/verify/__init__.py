"""Claims held against many runs: expectations and reports, order, neighbours, rule sets. Imports up to `measure`."""

from tickwright.verify.expectations import Verdict, check
from tickwright.verify.junit import junit_text
from tickwright.verify.neighbours import NeighbourVerdict, Touch, neighbour_verdicts
from tickwright.verify.orders import OrderVerdict, Parting, order_verdicts
from tickwright.verify.rulesets import RuleSetsVerdict, RulesPart, UnderRules, side_by_side

__all__ = [
    "NeighbourVerdict",
    "OrderVerdict",
    "Parting",
    "RuleSetsVerdict",
    "RulesPart",
    "Touch",
    "UnderRules",
    "Verdict",
    "check",
    "junit_text",
    "neighbour_verdicts",
    "order_verdicts",
    "side_by_side",
]
