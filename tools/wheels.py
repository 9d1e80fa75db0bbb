"""Make the wheels of five systems in dist/: python dev.py wheels. Needs the packages ziglang and build or uv.

Each library is compiled by ziglang for its system, then packed by the build backend.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import native_library

ROOT = Path(__file__).resolve().parents[1]
# Target of the compiler -> (system as Python names it, platform tag of the wheel).
TARGETS = {
    "x86_64-linux-gnu.2.17": ("linux", "manylinux_2_17_x86_64.manylinux2014_x86_64"),
    "aarch64-linux-gnu.2.17": ("linux", "manylinux_2_17_aarch64.manylinux2014_aarch64"),
    "x86_64-windows-gnu": ("win32", "win_amd64"),
    "aarch64-macos": ("darwin", "macosx_11_0_arm64"),
    "x86_64-macos": ("darwin", "macosx_11_0_x86_64"),
}


def main() -> int:
    """Make them; the first failure ends it."""
    if importlib.util.find_spec("ziglang") is None:
        print("wheels: the package ziglang is not installed; uv pip install ziglang, then try again.", file=sys.stderr)
        return 2
    uv = shutil.which("uv")
    pack = [uv, "build", "--wheel"] if uv else [sys.executable, "-m", "build", "--wheel"]
    for target, (system, tag) in TARGETS.items():
        with tempfile.TemporaryDirectory() as folder:
            try:
                path = native_library.compile_library(
                    native_library.zig(target), Path(folder) / native_library.library(system).name, system
                )
            except native_library.NoCompiler as error:
                print(f"wheels: {error}", file=sys.stderr)
                return 1
            environment = {**os.environ, "TICKWRIGHT_WHEEL": f"{tag}={path}"}
            done = subprocess.run([*pack, "--out-dir", "dist", "."], cwd=ROOT, env=environment, check=False)
            if done.returncode:
                return done.returncode
    return 0


if __name__ == "__main__":
    sys.exit(main())
