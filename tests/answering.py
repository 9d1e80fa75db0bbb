"""Ask what takes long of every example, and hold each answer to the JSON Schema: `python dev.py answers [PLAN ...]`.

`measure --full`, `diagnose --what-if`, `diagnose --observed` (a delay that the plan has not) and `diagnose --mend`;
what is quicker is asked by the tests. Each answer is a line; exit code 1 if one breaks the schema, or is none.
"""

from __future__ import annotations

import contextlib
import io
import sys
import tempfile
import time
from pathlib import Path
from unittest import mock

from answers import wrong
from tickwright import load
from tickwright.cli import main as program

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"


def main(names: list[str]) -> int:
    """Ask all of the plans named, or of every example."""
    unknown = [name for name in names if not (EXAMPLES / f"{name}.toml").is_file()]
    if unknown:
        print(f"There is no example {unknown[0]!r}; name one without its folder and ending.", file=sys.stderr)
        return 2
    asked = broken = 0
    try:
        for path in sorted(EXAMPLES.glob("*.toml")):
            for words in questions(path) if not names or path.stem in names else ():
                asked += 1
                broken += not kept(path, words)
    except KeyboardInterrupt:
        print(f"stopped; {asked} answers until then, {broken} of them broken")
        return 130
    print(f"{asked} answers, {broken} of them broken")
    return 1 if broken else 0


def questions(path: Path) -> list[list[str]]:
    """What is asked of a plan; what is observed needs a trigger and an output."""
    plan = load(path)
    names = [f"{trigger} -> {output}" for trigger in plan.triggers for output in plan.outputs][:1]
    return [
        ["measure", "--full"],
        ["diagnose", "--what-if"],
        *(["diagnose", "--observed", f"{name}: delay 0.35 s"] for name in names),
        ["diagnose", "--mend"],
    ]


def kept(path: Path, words: list[str]) -> bool:
    """Ask one thing of a plan, and say what came of it."""
    name, *more = words
    with tempfile.TemporaryDirectory() as folder:
        mended = [str(Path(folder, "mended.toml"))] if "--mend" in words else []
        before = time.process_time()
        code, out = answer([name, str(path), *more, *mended, "--json"])
    found = wrong(name, out) if out else ["no answer"]
    took = time.process_time() - before
    said = "as the schema says" if not found else "; ".join(found[:3])
    print(f"{path.stem} {' '.join(words)}: exit code {code}, {len(out):,} characters, {took:.1f} s: {said}", flush=True)
    return not found and code in (0, 1)


def answer(words: list[str]) -> tuple[object, str]:
    """The exit code of the program and what it printed."""
    out, code = io.StringIO(), None
    with contextlib.redirect_stdout(out), mock.patch.object(sys, "argv", ["tickwright", *words]):
        try:
            program()
        except SystemExit as end:
            code = end.code
    if code == 130:
        raise KeyboardInterrupt
    return code, out.getvalue()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
