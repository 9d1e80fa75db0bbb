"""Rule sets (data) and geometry: who joins, points, hears and is told. Imports only the leaves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.lazy import lazy_exports
from tickwright.rules.reading import BUILT_IN, confine_rules, load_rules, value_range
from tickwright.rules.ruleset import RuleSet, values_of

if TYPE_CHECKING:
    from tickwright.rules.layout import Layout, Stand, around
    from tickwright.rules.wire import joins, points

__all__ = [
    "BUILT_IN",
    "Layout",
    "RuleSet",
    "Stand",
    "around",
    "confine_rules",
    "joins",
    "load_rules",
    "points",
    "value_range",
    "values_of",
]

__getattr__ = lazy_exports(__name__, {"layout": ("Layout", "Stand", "around"), "wire": ("joins", "points")})
