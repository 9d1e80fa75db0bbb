"""Run the tests of the native engine on a library compiled with ASan and UBSan: python dev.py sanitize [WORLDS].

The tests hand it bad sizes and random worlds; WORLDS is how many worlds they look at [40].
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import native_library

ROOT = Path(__file__).resolve().parents[1]
TESTS = [f"tests/engine/test_native{which}.py" for which in ("", "_entries", "_monitored", "_routes", "_sizes")]


def runtime(command: list[str]) -> str:
    """The path of the sanitizers' library, which Python must load before all else."""
    for name in ("libasan.so", "libclang_rt.asan-x86_64.so"):
        said = subprocess.run([*command, f"-print-file-name={name}"], capture_output=True, text=True, check=False)
        path = Path(said.stdout.strip())
        if path.is_absolute():
            return str(path.resolve())
    raise native_library.NoCompiler(f"{command[0]} has no library of AddressSanitizer that can be loaded first")


def main(arguments: list[str]) -> int:
    """Compile, and run the tests; their exit code."""
    with tempfile.TemporaryDirectory() as folder:
        try:
            command = native_library.compiler()
            first = runtime(command)
            path = native_library.compile_library(
                command, Path(folder) / native_library.library().name, extra=native_library.SANITIZERS
            )
        except native_library.NoCompiler as error:
            print(f"sanitize: {error}", file=sys.stderr)
            return 2
        environment = {
            **os.environ,
            "LD_PRELOAD": first,
            "ASAN_OPTIONS": "detect_leaks=0:abort_on_error=1:allocator_may_return_null=1",
            "UBSAN_OPTIONS": "print_stacktrace=1",
            "TICKWRIGHT_LIBRARY": str(path),
            "TICKWRIGHT_WORLDS": arguments[0] if arguments else "40",
        }
        line = [sys.executable, "-X", "faulthandler", "-m", "pytest", "-q", "-p", "no:cacheprovider", *TESTS]
        return subprocess.run(line, cwd=ROOT, env=environment, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
