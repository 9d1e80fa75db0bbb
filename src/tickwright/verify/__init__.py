"""Claims held against many runs: expectations and reports, order, neighbours, rule sets; and proofs for any presses.

Imports up to `measure`.
"""

from tickwright.verify.claims import CLAIMS
from tickwright.verify.comparing import SORT_KEYS, Compared, compare
from tickwright.verify.expectations import Verdict, check
from tickwright.verify.explore import Search, cycle_lengths, explore, shortest_path
from tickwright.verify.junit import junit_text
from tickwright.verify.neighbours import NeighbourVerdict, Touch, neighbour_verdicts
from tickwright.verify.orders import OrderVerdict, Parting, order_verdicts
from tickwright.verify.proof import Proof, prove
from tickwright.verify.rulesets import RuleSetsVerdict, RulesPart, UnderRules, side_by_side

__all__ = [
    "CLAIMS",
    "SORT_KEYS",
    "Compared",
    "NeighbourVerdict",
    "OrderVerdict",
    "Parting",
    "Proof",
    "RuleSetsVerdict",
    "RulesPart",
    "Search",
    "Touch",
    "UnderRules",
    "Verdict",
    "check",
    "compare",
    "cycle_lengths",
    "explore",
    "junit_text",
    "neighbour_verdicts",
    "order_verdicts",
    "prove",
    "shortest_path",
    "side_by_side",
]
