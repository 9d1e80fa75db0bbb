"""Plans side by side: the rows, how they sort, and the command."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from pathlib import Path

import pytest

from tickwright.errors import UsageError
from tickwright.plan import load
from tickwright.verify import compare

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
NAMES = ("flat-loop-4", "latch", "stacked-loop-3", "flat-loop-2")
PATHS = [str(EXAMPLES / f"{name}.toml") for name in NAMES]


def plans():
    return {name: load(EXAMPLES / f"{name}.toml") for name in NAMES}


def test_rows_say_what_the_expectations_of_the_examples_say():
    rows = {row.plan: row for row in compare(plans(), hold_steps=80)}
    assert [rows[name].hold_steps for name in NAMES] == [80, None, 108, 52]
    assert [rows[name].error_steps for name in NAMES] == [0, None, 28, -28]
    flat = rows["flat-loop-2"]
    assert flat.delay_steps == 2
    assert flat.minimum_trigger_steps <= 4  # two ticks for two comparators
    assert flat.minimum_trigger_steps + flat.margin_steps == 20  # a short button
    assert (flat.parts, flat.price, flat.box) == (16, 16.0, (5, 2, 2))


def test_sorting_puts_what_does_not_apply_last():
    order = [row.plan for row in compare(plans(), 80, sort="error")]
    assert order == ["flat-loop-4", "stacked-loop-3", "flat-loop-2", "latch"]
    assert [row.plan for row in compare(plans(), sort="hold")][-1] == "latch"
    margins = [row.margin_steps for row in compare(plans(), sort="margin") if row.margin_steps is not None]
    assert margins == sorted(margins, reverse=True)
    with pytest.raises(UsageError, match='sorted by "hol"'):
        compare(plans(), sort="hol")
    with pytest.raises(UsageError, match="no error to sort by"):
        compare(plans(), sort="error")


def command(*words):
    words = [sys.executable, "-m", "tickwright", "compare", *PATHS, *words]
    return subprocess.run(words, capture_output=True, text=True, check=False)


def test_the_three_forms_agree():
    data = json.loads(command("--hold", "4 s", "--json").stdout)
    table = list(csv.DictReader(io.StringIO(command("--hold", "4 s", "--csv").stdout)))
    lines = command("--hold", "4 s", "--markdown").stdout.splitlines()
    assert [row["error"] for row in table] == ["0", "-", "28", "-28"]
    assert [row["error_steps"] for row in data["results"]] == [0, None, 28, -28]
    assert [line.split(" | ")[4] for line in lines[2:]] == ["0", "-", "28", "-28"]
    both = command("--csv", "--json")
    assert (both.returncode, both.stdout) == (2, "")
