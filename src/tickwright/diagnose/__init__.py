"""What is wrong with a circuit, why, and what mends it; which build error explains what was seen.

Imports up to `verify`. `diagnose` gathers findings; each code is told in one table, CODES.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.late import late_exports

if TYPE_CHECKING:
    from tickwright.diagnose.acting import most_rises
    from tickwright.diagnose.causes import TOLERANCE_STEPS, Cause, Causes, Proposal, find_causes
    from tickwright.diagnose.codes import CODES, Code, find_code
    from tickwright.diagnose.cycles import Arc, max_cycle_ratio
    from tickwright.diagnose.diagnosing import Diagnosis, diagnose
    from tickwright.diagnose.explaining import Explanation, explain
    from tickwright.diagnose.mending import Mended, mend
    from tickwright.diagnose.mistakes import KINDS, Mistake, single_mistakes
    from tickwright.diagnose.observed import Observed, parse_observed
    from tickwright.diagnose.symptoms import SYMPTOMS, Seen, seen_at, symptom
    from tickwright.diagnose.whatif import Consequence, WhatIf, WhatIfRow, what_if

__all__ = [
    "CODES",
    "KINDS",
    "SYMPTOMS",
    "TOLERANCE_STEPS",
    "Arc",
    "Cause",
    "Causes",
    "Code",
    "Consequence",
    "Diagnosis",
    "Explanation",
    "Mended",
    "Mistake",
    "Observed",
    "Proposal",
    "Seen",
    "WhatIf",
    "WhatIfRow",
    "diagnose",
    "explain",
    "find_causes",
    "find_code",
    "max_cycle_ratio",
    "mend",
    "most_rises",
    "parse_observed",
    "seen_at",
    "single_mistakes",
    "symptom",
    "what_if",
]

__getattr__ = late_exports(
    __name__,
    {
        "acting": ("most_rises",),
        "causes": ("TOLERANCE_STEPS", "Cause", "Causes", "Proposal", "find_causes"),
        "codes": ("CODES", "Code", "find_code"),
        "cycles": ("Arc", "max_cycle_ratio"),
        "diagnosing": ("Diagnosis", "diagnose"),
        "explaining": ("Explanation", "explain"),
        "mending": ("Mended", "mend"),
        "mistakes": ("KINDS", "Mistake", "single_mistakes"),
        "observed": ("Observed", "parse_observed"),
        "symptoms": ("SYMPTOMS", "Seen", "seen_at", "symptom"),
        "whatif": ("Consequence", "WhatIf", "WhatIfRow", "what_if"),
    },
)
