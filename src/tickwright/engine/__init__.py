"""Engines and what they record: runs and traces. Imports the leaves, `rules` and `plan`; nothing heavy early."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.engine.interface import is_installed
from tickwright.engine.running import Run, run
from tickwright.engine.trace import Trace, first_difference
from tickwright.lazy import lazy_exports

if TYPE_CHECKING:
    from tickwright.engine.circuit import Circuit, circuit_of

__all__ = ["Circuit", "Run", "Trace", "circuit_of", "first_difference", "is_installed", "run"]

__getattr__ = lazy_exports(__name__, {"circuit": ("Circuit", "circuit_of")})
