"""Compile the native engine's library, here or for another system.

Usage: python tools/native_library.py [--if-changed]

The system's C compiler is taken ($CC, cc, gcc or clang); where there is none, that of the package ziglang. With
TICKWRIGHT_BUILD=none nothing is compiled, and everything runs on the reference engine.
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[1] / "src" / "tickwright" / "engine" / "native"
SOURCES = FOLDER / "c"
STAMP = FOLDER / "libtickwright.made-from"
SUFFIX = {"win32": ".dll", "darwin": ".dylib"}
MOST_SAID = 2000  # characters of what a compiler says
FLAGS = ["-std=c11", "-O2", "-shared", "-fvisibility=hidden", "-ffp-contract=off"]
WARNINGS = ["-Wall", "-Wextra", "-Wpedantic", "-Wshadow", "-Wconversion", "-Werror"]
SANITIZERS = ["-g", "-O1", "-fno-omit-frame-pointer", "-fsanitize=address,undefined", "-fno-sanitize-recover=all"]


class NoCompiler(Exception):
    """There is no C compiler, or it fails."""


def system_compiler() -> list[str] | None:
    """The system's C compiler, as the beginning of a command line."""
    given = os.environ.get("CC")
    if given:
        return shlex.split(given)
    found = next((path for name in ("cc", "gcc", "clang") if (path := shutil.which(name))), None)
    return [found] if found else None


def is_wanted() -> bool:
    """Whether a library is to be compiled at all."""
    return os.environ.get("TICKWRIGHT_BUILD") != "none"


def compiler() -> list[str]:
    """The command that compiles for this system."""
    found = system_compiler()
    if found:
        return found
    if importlib.util.find_spec("ziglang") is None:
        raise NoCompiler("there is no C compiler (cc, gcc or clang), and the package ziglang is not installed")
    return zig()


def zig(target: str | None = None) -> list[str]:
    """The compiler of ziglang, without what debuggers need; for another system if a target is named."""
    return [sys.executable, "-m", "ziglang", "cc", "-s", *(["-target", target] if target else [])]


def sources() -> list[Path]:
    """What is handed to the compiler: one unit that takes in all C files."""
    return [SOURCES / "all.c"]


def library(system: str = sys.platform) -> Path:
    """Where the library of a system lies."""
    return FOLDER / f"libtickwright{SUFFIX.get(system, '.so')}"


def digest() -> str:
    """What the library is made from: the C, its headers and this file."""
    made = hashlib.sha256(Path(__file__).read_bytes())
    for path in sorted(SOURCES.iterdir()):
        made.update(path.read_bytes())
    return made.hexdigest()


def compile_library(command: list[str], into: Path, system: str = sys.platform, extra: list[str] | None = None) -> Path:
    """Compile the library with that compiler. Raises NoCompiler, with what it says, if that fails."""
    position = [] if system == "win32" else ["-fPIC"]
    making = into.with_name(f"{into.name}.{os.getpid()}")
    mathematics = [] if system == "win32" else ["-lm"]
    line = [*command, *FLAGS, *position, *(extra or []), *map(str, sources()), *mathematics, "-o", str(making)]
    try:
        done = subprocess.run(line, capture_output=True, text=True, check=False)
    except OSError as error:
        raise NoCompiler(f"{command[0]} cannot be run: {error}") from None
    if done.returncode:
        making.unlink(missing_ok=True)
        raise NoCompiler(f"{shlex.join(line)} ended with exit code {done.returncode}:\n{done.stderr[:MOST_SAID]}")
    for left in making.parent.glob(f"{making.name.rsplit('.', 1)[0]}*.pdb"):
        left.unlink()
    making.replace(into)
    return into


def build(*, only_if_changed: bool = False) -> bool:
    """Compile for this system, warnings being errors in a checkout; whether there is a library afterwards."""
    if not is_wanted():
        return False
    path, made_from = library(), digest()
    if only_if_changed and path.exists() and STAMP.exists() and STAMP.read_text("utf-8") == made_from:
        return True
    compile_library(compiler(), path, extra=WARNINGS if only_if_changed else None)
    STAMP.write_text(made_from, "utf-8")
    return True


def main(arguments: list[str]) -> int:
    """Compile; say what went wrong."""
    try:
        build(only_if_changed="--if-changed" in arguments)
    except NoCompiler as error:
        print(f"The native engine is not compiled: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
