"""What is wrong with a circuit, why, and what mends it; which build error explains what was seen.

Imports up to `verify`. `diagnose` gathers findings; each code is told in one table, CODES.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.lazy import lazy_exports

if TYPE_CHECKING:
    from tickwright.diagnosis.acting import most_rises
    from tickwright.diagnosis.asking import Conversation, Leading, Round, picture
    from tickwright.diagnosis.causes import TOLERANCE_STEPS, Cause, Causes, Proposal, find_causes
    from tickwright.diagnosis.codes import CODES, Code, find_code
    from tickwright.diagnosis.cycles import Arc, max_cycle_ratio
    from tickwright.diagnosis.diagnosing import Diagnosis, diagnose
    from tickwright.diagnosis.explaining import Explanation, explain
    from tickwright.diagnosis.mending import Mended, mend
    from tickwright.diagnosis.mistakes import KINDS, Mistake, single_mistakes
    from tickwright.diagnosis.observed import Observed, parse_observed
    from tickwright.diagnosis.reasons import LONGEST_CONTRASTED_STEPS, Explained, Sentence, contrast, why
    from tickwright.diagnosis.symptoms import SYMPTOMS, Seen, seen_at, symptom
    from tickwright.diagnosis.whatif import Consequence, WhatIf, WhatIfRow, what_if
    from tickwright.diagnosis.world import (
        Fitted,
        bench_names,
        bench_plan,
        bench_sheet,
        fit_rules,
        load_measured,
        measured_text,
        rules_text,
    )

__all__ = [
    "CODES",
    "KINDS",
    "LONGEST_CONTRASTED_STEPS",
    "SYMPTOMS",
    "TOLERANCE_STEPS",
    "Arc",
    "Cause",
    "Causes",
    "Code",
    "Consequence",
    "Conversation",
    "Diagnosis",
    "Explained",
    "Explanation",
    "Fitted",
    "Leading",
    "Mended",
    "Mistake",
    "Observed",
    "Proposal",
    "Round",
    "Seen",
    "Sentence",
    "WhatIf",
    "WhatIfRow",
    "bench_names",
    "bench_plan",
    "bench_sheet",
    "contrast",
    "diagnose",
    "explain",
    "find_causes",
    "find_code",
    "fit_rules",
    "load_measured",
    "max_cycle_ratio",
    "measured_text",
    "mend",
    "most_rises",
    "parse_observed",
    "picture",
    "rules_text",
    "seen_at",
    "single_mistakes",
    "symptom",
    "what_if",
    "why",
]

__getattr__ = lazy_exports(
    __name__,
    {
        "acting": ("most_rises",),
        "asking": ("Conversation", "Leading", "Round", "picture"),
        "causes": ("TOLERANCE_STEPS", "Cause", "Causes", "Proposal", "find_causes"),
        "codes": ("CODES", "Code", "find_code"),
        "cycles": ("Arc", "max_cycle_ratio"),
        "diagnosing": ("Diagnosis", "diagnose"),
        "explaining": ("Explanation", "explain"),
        "mending": ("Mended", "mend"),
        "mistakes": ("KINDS", "Mistake", "single_mistakes"),
        "observed": ("Observed", "parse_observed"),
        "reasons": ("LONGEST_CONTRASTED_STEPS", "Explained", "Sentence", "contrast", "why"),
        "symptoms": ("SYMPTOMS", "Seen", "seen_at", "symptom"),
        "world": (
            "Fitted",
            "bench_names",
            "bench_plan",
            "bench_sheet",
            "fit_rules",
            "load_measured",
            "measured_text",
            "rules_text",
        ),
        "whatif": ("Consequence", "WhatIf", "WhatIfRow", "what_if"),
    },
)
