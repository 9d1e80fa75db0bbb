"""Run the benchmarks: python dev.py bench [NAME ...] [--json] [--repeats N] [--write].

Each file `bench_*.py` beside this one is a benchmark: its docstring says what it measures, and its function
`measure(repeats)` returns results. Whatever a result is compared with is timed in the same run, turn by turn, so that a
busy machine slows both alike; a result is a median over the repeats. `--write` writes the tables of core and engines,
or those named (place and compose, too), into docs/performance.md.
"""

from __future__ import annotations

import argparse
import importlib
import json
import platform
import statistics
import sys
from pathlib import Path
from typing import NamedTuple

HERE = Path(__file__).resolve().parent


class Result(NamedTuple):
    """One figure: what it is, its value and unit, and the smallest and largest value among the repeats."""

    what: str
    value: float
    unit: str
    least: float
    most: float


def main() -> int:
    """Run the benchmarks named, or all; return the exit code."""
    names = sorted(path.stem.removeprefix("bench_") for path in HERE.glob("bench_*.py"))
    parser = argparse.ArgumentParser(prog="python dev.py bench", description="Run the benchmarks and show medians.")
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"which to run [all]: {', '.join(names)}")
    parser.add_argument("--repeats", type=int, default=9, help="how often each figure is measured [9]")
    parser.add_argument("--json", action="store_true", help="print one JSON document instead of a table")
    parser.add_argument("--write", action="store_true", help="write the tables of core and engines, or those named")
    parser.add_argument("--busy", default="", metavar="TEXT", help="with --write: what else ran meanwhile")
    options = parser.parse_args()
    unknown = sorted(set(options.names) - set(names))
    if unknown:
        parser.error(f"there is no benchmark {', '.join(unknown)}; there are: {', '.join(names)}")
    if options.repeats < 1:
        parser.error("--repeats must be 1 or more")
    sys.path[:0] = [str(HERE), str(HERE.parent)]
    if options.write:
        return write_page(options.names or ["core", "engines"], options.repeats, options.busy)
    chosen = {name: importlib.import_module(f"bench_{name}") for name in options.names or names}
    report({name: bench.measure(options.repeats) for name, bench in chosen.items()}, options.repeats, options.json)
    return 0


def write_page(names: list[str], repeats: int, busy: str) -> int:
    """Run the tables of docs/performance.md, tell of each row as it comes, and write the page."""
    import page

    for name, write in (("place", page.write_place), ("compose", page.write_compose)):
        if name not in names:
            continue
        rows = []
        for row in importlib.import_module(f"bench_{name}").rows():
            rows.append(row)
            print(" | ".join(row), flush=True)
        print(f"{write(rows, busy)} written")
    for name, write in (("core", page.write_core), ("engines", page.write)):
        if name not in names:
            continue
        bench = importlib.import_module(f"bench_{name}")
        rows = []
        for row in bench.rows(repeats):
            rows.append(row)
            ratios = ", ".join(f"{row.ratio(peer):.3g} x {peer}" for peer in row.peers)
            print(f"{row.what}: {statistics.median(row.ours):.4g} {row.unit}; {ratios or 'no peer'}", flush=True)
        print(f"{write(rows, min(repeats, bench.MOST_TURNS), busy)} written")
    return 0


def report(results: dict[str, list[Result]], repeats: int, as_json: bool) -> None:
    """Print the results with the machine they hold for."""
    machine = f"{platform.system()} {platform.machine()}, Python {platform.python_version()}"
    if as_json:
        rows = {name: [result._asdict() for result in found] for name, found in results.items()}
        print(json.dumps({"machine": machine, "repeats": repeats, "results": rows}, indent=2))
        return
    print(f"{machine}; medians of {repeats}, least and most in brackets")
    for name, found in results.items():
        print(f"\n{name}")
        for result in found:
            spread = f"({result.least:.4g} to {result.most:.4g})"
            print(f"  {result.what:<56} {result.value:>9.4g} {result.unit:<6} {spread}")


if __name__ == "__main__":
    sys.modules["run"] = sys.modules["__main__"]  # so that a benchmark's Result is the one of this run
    sys.exit(main())
