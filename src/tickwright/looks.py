"""How values show themselves in a notebook: what draws them lies in units above theirs, and is named here by text.

`tickwright` itself registers the drawers; a value asks for its own when a notebook wants to show it.
"""

from __future__ import annotations

TYPE_CHECKING = False  # see tickwright itself
if TYPE_CHECKING:
    from typing import Any

__all__ = ["look_of", "register_looks"]

_DRAWERS: dict[str, tuple[str, str]] = {}


def register_looks(drawers: dict[str, tuple[str, str]]) -> None:
    """Say what draws values: name of the class -> (module, function)."""
    _DRAWERS.update(drawers)


def look_of(value: Any) -> str | None:
    """The SVG or HTML text of a value, or None if nothing draws it."""
    found = _DRAWERS.get(type(value).__name__)
    if found is None:
        return None
    from importlib import import_module

    text: str = getattr(import_module(found[0]), found[1])(value)
    return text
