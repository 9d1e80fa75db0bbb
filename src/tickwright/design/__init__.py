"""Makes plans that do what is wanted: families of circuits with numbers to choose, the chooser among them, the tuner.

Imports up to `diagnose`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.lazy import lazy_exports

if TYPE_CHECKING:
    from tickwright.design.choosing import Chosen, choose
    from tickwright.design.differences import Differences, Figures, tell_apart
    from tickwright.design.discovery import (
        BEHAVIOURS,
        KINDS_TRIED,
        Annealing,
        Certificate,
        Search,
        anneal,
        ask,
        certify,
        encoded,
        go_on,
        resumed,
        size_text,
    )
    from tickwright.design.fitting import fit, fits, in_room, lying
    from tickwright.design.routing import Routing, route
    from tickwright.design.settings import settings_words
    from tickwright.design.table import TABLE_TRIGGERS, table_ranges, table_text
    from tickwright.design.tuning import (
        ChartTuning,
        KnobRow,
        Tuned,
        TunedToChart,
        Tuning,
        choices_at,
        knob_table,
        tune,
        tune_to_chart,
    )
    from tickwright.design.wish import ANSWERS, OUTPUTS_WANTED, TRIGGERS, Design, Fit, Room, Wish
    from tickwright.design.wording import (
        CLAIMS_WANTED,
        best_in,
        design_facts,
        on_time,
        read_allowed,
        read_cell,
        read_duty,
        read_have,
        read_pitch,
        read_rules,
        read_size,
        read_way,
        room_of,
        wish_problems,
    )

__all__ = [
    "ANSWERS",
    "BEHAVIOURS",
    "CLAIMS_WANTED",
    "KINDS_TRIED",
    "OUTPUTS_WANTED",
    "TABLE_TRIGGERS",
    "TRIGGERS",
    "Annealing",
    "Certificate",
    "ChartTuning",
    "Chosen",
    "Design",
    "Differences",
    "Figures",
    "Fit",
    "KnobRow",
    "Room",
    "Routing",
    "Search",
    "Tuned",
    "TunedToChart",
    "Tuning",
    "Wish",
    "anneal",
    "ask",
    "best_in",
    "certify",
    "choices_at",
    "choose",
    "design_facts",
    "encoded",
    "fit",
    "fits",
    "go_on",
    "in_room",
    "knob_table",
    "lying",
    "on_time",
    "read_allowed",
    "read_cell",
    "read_duty",
    "read_have",
    "read_pitch",
    "read_rules",
    "read_size",
    "read_way",
    "resumed",
    "room_of",
    "route",
    "settings_words",
    "size_text",
    "table_ranges",
    "table_text",
    "tell_apart",
    "tune",
    "tune_to_chart",
    "wish_problems",
]

__getattr__ = lazy_exports(
    __name__,
    {
        "choosing": ("Chosen", "choose"),
        "discovery": (
            "BEHAVIOURS",
            "KINDS_TRIED",
            "Annealing",
            "Certificate",
            "Search",
            "anneal",
            "ask",
            "certify",
            "encoded",
            "go_on",
            "resumed",
            "size_text",
        ),
        "differences": ("Differences", "Figures", "tell_apart"),
        "fitting": ("fit", "fits", "in_room", "lying"),
        "routing": ("Routing", "route"),
        "settings": ("settings_words",),
        "table": ("TABLE_TRIGGERS", "table_ranges", "table_text"),
        "tuning": (
            "ChartTuning",
            "KnobRow",
            "Tuned",
            "TunedToChart",
            "Tuning",
            "choices_at",
            "knob_table",
            "tune",
            "tune_to_chart",
        ),
        "wording": (
            "CLAIMS_WANTED",
            "best_in",
            "design_facts",
            "read_allowed",
            "on_time",
            "read_cell",
            "read_duty",
            "read_have",
            "read_pitch",
            "read_rules",
            "read_size",
            "read_way",
            "room_of",
            "wish_problems",
        ),
        "wish": ("ANSWERS", "OUTPUTS_WANTED", "TRIGGERS", "Design", "Fit", "Room", "Wish"),
    },
)
