"""Plans side by side: the rows, how they sort, and the command."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from tickwright.errors import UsageError
from tickwright.plan import load, loads
from tickwright.verify import compare, prove

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
NAMES = ("flat-loop-4", "latch", "stacked-loop-3", "flat-loop-2")
PATHS = [str(EXAMPLES / f"{name}.toml") for name in NAMES]

CLOCK = r"""
format = "tickwright plan 1"
layer = [
  {rows = "##########\n.#.......#\n.#########"},
  {rows = "l#tw#tw#tw\n.w.......w\n.wwwwwwwww"},
]
triggers = {stop = [0, 0, 1]}
outputs = {beat = [3, 0, 1]}
[legend]
"#" = "block"
t = "torch on=west"
w = "wire"
l = "lever on=east"
"""


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


def test_pitch_rule_sets_and_proof():
    rows = {row.plan: row for row in compare(plans(), claim="settles", states=400)}
    flat = rows["flat-loop-4"]
    assert (flat.pitch_y_cells, flat.rule_sets) == (3, "same")
    assert rows["stacked-loop-3"].pitch_y_cells == 2  # stacked loops stand two cells apart
    assert (flat.proof, flat.proof_states) == ("undecided", 400)
    for name, row in rows.items():
        alone = prove(plans()[name], "settles", states=400)
        assert (row.proof, row.proof_states) == (alone.verdict, alone.states)
    assert {row.proof for row in compare(plans())} == {None}


def test_a_loop_that_fades_under_older_rules_differs_and_a_clock_has_no_pitch():
    paths = ("older-wire-fade", "torch-clock", "flat-loop-2")
    rows = compare({name: load(EXAMPLES / f"{name}.toml") for name in paths}, sort="rule-sets")
    assert (rows[-1].plan, rows[-1].rule_sets) == ("older-wire-fade", "differ")
    clock = compare({"clock": loads(CLOCK)})[0]
    assert (clock.pitch_x_cells, clock.pitch_y_cells) == (None, None)


def test_proofs_sort_by_verdict_and_what_expects_nothing_has_none():
    loaded = plans()
    loaded["latch"] = replace(loaded["latch"], expectations=())
    rows = compare(loaded, claim="expectations", states=60, sort="proof")
    ranks = [("proved", "undecided", "refuted").index(row.proof) for row in rows[:-1]]
    assert ranks == sorted(ranks)
    assert (rows[-1].plan, rows[-1].proof) == ("latch", None)
    assert {row.plan for row in compare(plans(), sort="pitch-y")} == set(NAMES)
    with pytest.raises(UsageError, match="no proof to sort by"):
        compare(plans(), sort="proof")
    with pytest.raises(UsageError, match="needs limits that differ"):
        compare(plans(), claim="holds")
    with pytest.raises(UsageError, match='no claim "settle"'):
        compare(plans(), claim="settle")


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
    assert (both.returncode, json.loads(both.stdout).keys()) == (2, {"error"})


def test_proof_and_pitch_are_in_every_form():
    words = ("--prove", "settles", "--states", "50", "--sort", "pitch-x")
    data = json.loads(command(*words, "--json").stdout)
    table = list(csv.DictReader(io.StringIO(command(*words, "--csv").stdout)))
    marked = [line.strip("| ").split(" | ") for line in command(*words, "--markdown").stdout.splitlines()]
    assert data["claim"] == "settles"
    for row, entry, cells in zip(data["results"], table, marked[2:], strict=True):
        pitches = ["-" if row[key] is None else str(row[key]) for key in ("pitch_x_cells", "pitch_y_cells")]
        shown = [*pitches, row["rule_sets"], f"{row['proof']} ({row['proof_states']} states)"]
        assert [entry[head] for head in ("pitch x", "pitch y", "rule sets", "proof")] == shown
        assert cells[-5:-1] == shown
    found = [row["pitch_x_cells"] for row in data["results"] if row["pitch_x_cells"] is not None]
    assert found == sorted(found)
    wrong = command("--prove", "holds")
    assert (wrong.returncode, wrong.stdout) == (2, "")
