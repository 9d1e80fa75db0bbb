"""Rule sets (data) and geometry: who joins, points, hears and is told. Imports only the leaves."""

from tickwright.rules.ruleset import BUILT_IN, RuleSet, load_rules, values_of

__all__ = ["BUILT_IN", "RuleSet", "load_rules", "values_of"]
