"""Repeat the property tests with a fresh seed each round until the time is over or one fails.

Usage: python dev.py fuzz [--minutes N] [pytest arguments]
"""

from __future__ import annotations

import argparse
import secrets
import subprocess
import sys
import time


def main() -> int:
    parser = argparse.ArgumentParser(prog="python dev.py fuzz", description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--minutes", type=float, default=5.0, help="start no new round after so many minutes [5]")
    options, rest = parser.parse_known_args()
    end = time.monotonic() + options.minutes * 60
    flags = ["-n", "auto", "-q", "-m", "hypothesis", "--timeout", "0", "--hypothesis-profile", "fuzz"]
    rounds = 0
    while rounds == 0 or time.monotonic() < end:
        rounds += 1
        arguments = [*flags, f"--hypothesis-seed={secrets.randbelow(2**32)}", *rest]
        print(f"round {rounds}: pytest {' '.join(arguments)}", flush=True)
        code = subprocess.run([sys.executable, "-m", "pytest", *arguments], check=False).returncode
        if code:
            print(f"round {rounds} ended with exit code {code}; the line above that begins with its number repeats it")
            return code
    print(f"{rounds} rounds without a failure")
    return 0


if __name__ == "__main__":
    sys.exit(main())
