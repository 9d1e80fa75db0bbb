"""Lazy exports: names that a package offers but whose modules load only when one of them is asked for."""

from __future__ import annotations

import sys

TYPE_CHECKING = False  # see tickwright itself
if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from typing import Any

__all__ = ["lazy_exports"]


def lazy_exports(package: str, names: Mapping[str, tuple[str, ...]]) -> Callable[[str], Any]:
    """Make a package's `__getattr__`: `names` holds, by the module under the package, what is taken from it.

    `dir` of the package lists these names, too, loaded or not. A short job starts sooner when it loads no more than it
    uses. A name may not be that of a module beside it: once loaded, the module would stand in its place. Raises
    AttributeError for any other name.

    >>> lazy_exports("tickwright", {"durations": ("parse_duration",)})("parse_duration")("12 s")
    240
    """
    homes = {name: module for module, offered in names.items() for name in offered}
    assert not homes.keys() & names.keys(), "a lazy name is that of a module beside it"

    held = sys.modules[package].__dict__
    listed = held.get("__dir__", lambda: list(held))
    held["__dir__"] = lambda: sorted({*listed(), *homes})

    def get(name: str) -> Any:
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        from importlib import import_module

        return getattr(import_module(f"{package}.{homes[name]}"), name)

    return get
