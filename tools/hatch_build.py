"""Hatchling's hook: compile the native library into the wheel, and name the systems that it is for."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

sys.path.insert(0, str(Path(__file__).resolve().parent))
import native_library


class NativeLibrary(BuildHookInterface):
    """Compiles before a wheel is packed; without a compiler the wheel is that of any system, and has no library."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Compile, or take the library that `dev.py wheels` has compiled for another system."""
        del version
        given = os.environ.get("TICKWRIGHT_WHEEL")  # PLATFORM-TAG=LIBRARY
        if given:
            tag, path = given.split("=", 1)
            build_data["tag"], build_data["pure_python"] = f"py3-none-{tag}", False
            build_data["force_include"][path] = f"tickwright/engine/native/{Path(path).name}"
            return
        try:
            built = native_library.build()
        except native_library.NoCompiler as error:
            self.app.display_warning(f"Tickwright's fast engine is left out: {error}")
            return
        if built:
            from packaging.tags import platform_tags

            build_data["tag"], build_data["pure_python"] = f"py3-none-{next(iter(platform_tags()))}", False
            path = native_library.library()
            build_data["force_include"][str(path)] = f"tickwright/engine/native/{path.name}"
