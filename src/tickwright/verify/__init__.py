"""Claims held against many runs: expectations and reports, order, neighbours, rule sets; and proofs for any presses.

Imports up to `measure`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.lazy import lazy_exports

if TYPE_CHECKING:
    from tickwright.verify.chart_proof import prove_chart
    from tickwright.verify.claims import CLAIMS
    from tickwright.verify.comparing import SORT_KEYS, Compared, compare, sorted_rows
    from tickwright.verify.expectations import Verdict, check
    from tickwright.verify.junit import junit_text
    from tickwright.verify.neighbours import NeighbourVerdict, Touch, neighbour_verdicts
    from tickwright.verify.orders import OrderVerdict, Parting, order_verdicts
    from tickwright.verify.proof import prove
    from tickwright.verify.proving import Proof
    from tickwright.verify.rulesets import RuleSetsVerdict, RulesPart, UnderRules, side_by_side
    from tickwright.verify.search import Search

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
    "junit_text",
    "neighbour_verdicts",
    "order_verdicts",
    "prove",
    "prove_chart",
    "side_by_side",
    "sorted_rows",
]

__getattr__ = lazy_exports(
    __name__,
    {
        "chart_proof": ("prove_chart",),
        "claims": ("CLAIMS",),
        "comparing": ("SORT_KEYS", "Compared", "compare", "sorted_rows"),
        "expectations": ("Verdict", "check"),
        "search": ("Search",),
        "junit": ("junit_text",),
        "neighbours": ("NeighbourVerdict", "Touch", "neighbour_verdicts"),
        "orders": ("OrderVerdict", "Parting", "order_verdicts"),
        "proof": ("prove",),
        "proving": ("Proof",),
        "rulesets": ("RuleSetsVerdict", "RulesPart", "UnderRules", "side_by_side"),
    },
)
