"""Composes contraptions from briefs: moments, tiles, networks, places, timing, proof.

Imports up to `verify` and `layout`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tickwright.lazy import lazy_exports

if TYPE_CHECKING:
    from tickwright.design.compose.brief import Brief, load_brief, read_brief
    from tickwright.design.compose.composing import Composed, compose

__all__ = ["Brief", "Composed", "compose", "load_brief", "read_brief"]

__getattr__ = lazy_exports(
    __name__,
    {"brief": ("Brief", "load_brief", "read_brief"), "composing": ("Composed", "compose")},
)
