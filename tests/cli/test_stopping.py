"""Ctrl-C at awkward moments: "Stopped", exit code 130, what was found printed, no traceback, no process left."""

from __future__ import annotations

import csv
import json
import signal
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

import pytest

from pressing import Program
from tickwright import dossier

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
LONG = EXAMPLES / "hour-counter.toml"
SWEEP = ["sweep", EXAMPLES / "hopper-clock.toml", "--do", "60..260:run", "--for", "15000 steps", "--workers", "2"]
pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")


@pytest.mark.parametrize("words", [["parts"], ["measure", LONG, "--full"], ["workbench", "--no-browser"]])
def test_ctrl_c_while_the_program_loads_leaves_at_once(words, tmp_path):
    program = Program(*words, folder=tmp_path, TICKWRIGHT_STATE=str(tmp_path / "state"))
    program.until(1)
    ended = program.press()
    assert (ended.code, ended.out, ended.err, ended.left) == (130, "", "Stopped.\n", [])


def test_ctrl_c_in_a_command_without_partial_results_stops_it():
    program = Program("measure", LONG, "--full")
    program.until(2)
    ended = program.press()
    assert (ended.code, ended.out, ended.err, ended.left) == (130, "", "Stopped.\n", [])


@pytest.mark.parametrize("more", [[], ["--json"]])
def test_ctrl_c_in_a_dossier_prints_what_was_measured(monkeypatch, call, more):
    def interrupted(*_):
        signal.raise_signal(signal.SIGINT)

    plain = call("measure", EXAMPLES / "taps.toml", *more)
    monkeypatch.setattr(dossier, "gather", interrupted)
    assert call("measure", EXAMPLES / "taps.toml", "--full", *more) == (130, plain[1], "Stopped.\n")


@pytest.mark.parametrize("more", [[], ["--what-if"], ["--observed", "hold 8.5 s"]])
def test_ctrl_c_in_a_long_diagnosis_prints_what_was_found(more):
    program = Program("diagnose", LONG, *more, "--json")
    program.until(3)
    ended = program.press()
    assert (ended.code, ended.err, ended.left) == (130, "Stopped.\n", [])
    assert json.loads(ended.out)["stopped"] is True


def test_ctrl_c_between_two_plans_prints_the_verdicts_of_the_first(monkeypatch, call):
    import tickwright.cli.check as command

    checked = command.check

    def interrupted(plan, rules):
        if plan.title == "Hour counter":
            signal.raise_signal(signal.SIGINT)
        return checked(plan, rules)

    monkeypatch.setattr(command, "check", interrupted)
    title = LONG.read_text(encoding="utf-8").partition('title = "')[2].partition('"')[0]
    monkeypatch.setattr(command, "load", lambda path: _titled(path, title))
    code, out, err = call("check", EXAMPLES / "taps.toml", LONG)
    assert (code, err) == (130, "Stopped.\n")
    assert "taps.toml" in out
    assert "0 failed" in out
    assert "hour-counter" not in out


def test_ctrl_c_between_two_plans_compares_those_that_are_done(monkeypatch, call):
    import tickwright.cli.compare as command

    compared = command.compare

    def interrupted(plans, *given):
        if str(LONG) in plans:
            signal.raise_signal(signal.SIGINT)
        return compared(plans, *given)

    monkeypatch.setattr(command, "compare", interrupted)
    plans = EXAMPLES / "taps.toml", EXAMPLES / "flat-loop-4.toml"
    code, out, err = call("compare", *plans, LONG, "--sort", "parts", "--csv")
    assert (code, err) == (130, "Stopped.\n")
    parts = [int(row["parts"]) for row in csv.DictReader(out.splitlines())]
    assert parts == sorted(parts)
    assert len(parts) == 2
    code, out, err = call("compare", LONG, *plans)
    assert (code, out, err) == (130, "", "Stopped.\n")


def _titled(path, title):
    from dataclasses import replace

    from tickwright import load

    plan = load(path)
    return replace(plan, title="Hour counter") if plan.title == title else plan


def test_ctrl_c_while_the_workers_of_a_sweep_load_reaches_none_of_them(tmp_path):
    file = tmp_path / "r.sqlite"
    program = Program(*SWEEP, "--into", file)
    program.until_it_has(2)
    ended = program.press()
    assert (ended.code, ended.out, ended.left) == (130, "", [])
    left = 201 - _rows(file)
    assert ended.err == f"{left} points left; the same command goes on from there.\nStopped.\n"


def test_the_workers_of_a_sweep_end_with_it_however_it_ends(tmp_path):
    file = tmp_path / "r.sqlite"
    program = Program(*SWEEP, "--into", file)
    program.until_it_has(3)  # two workers, and what keeps track of what they share
    ended = program.press(signal.SIGKILL, alone=True)
    assert (ended.code, ended.left) == (-signal.SIGKILL, [])
    before = _rows(file)
    again = Program(*SWEEP[:2], "--do", "60..70:run", "--for", "15000 steps", "--into", file, "--json").wait()
    assert (again.code, again.err) == (0, "")
    assert len(json.loads(again.out)["results"]) == 11
    assert _rows(file) >= before


def _rows(file):
    with closing(sqlite3.connect(file)) as opened:
        return opened.execute("SELECT count(*) FROM points").fetchone()[0]
