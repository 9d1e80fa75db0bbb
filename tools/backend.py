"""The build backend: hatchling, which asks for ziglang where the system has no C compiler."""

from __future__ import annotations

from typing import Any

import hatchling.build as hatch
import native_library
from hatchling.build import build_editable, build_sdist, build_wheel, get_requires_for_build_sdist

__all__ = [
    "build_editable",
    "build_sdist",
    "build_wheel",
    "get_requires_for_build_editable",
    "get_requires_for_build_sdist",
    "get_requires_for_build_wheel",
]


def _compiler_package() -> list[str]:
    needed = native_library.is_wanted() and native_library.system_compiler() is None
    return ["ziglang>=0.14"] if needed else []


def get_requires_for_build_wheel(config_settings: dict[str, Any] | None = None) -> list[str]:
    """What a wheel is built with."""
    return [*hatch.get_requires_for_build_wheel(config_settings), *_compiler_package()]


def get_requires_for_build_editable(config_settings: dict[str, Any] | None = None) -> list[str]:
    """What an editable install is built with."""
    return [*hatch.get_requires_for_build_editable(config_settings), *_compiler_package()]
