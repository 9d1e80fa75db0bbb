"""What a terminal shows: the answer first, tables that fit 80 columns, signs and colours where they can be shown."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tickwright import load, measure
from tickwright.cli.compare import short_names
from tickwright.publish import answer, least_text, main_result, promises_text

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "examples"


def told(*words: str, **environment: str) -> str:
    """What a command prints into a pipe of 80 columns."""
    env = {**os.environ, "COLUMNS": "80", "PYTHONIOENCODING": "utf-8", **environment}
    done = subprocess.run(
        [sys.executable, "-m", "tickwright", *words], capture_output=True, env=env, cwd=EXAMPLES, check=False
    )
    assert done.returncode in (0, 1), done.stderr
    return done.stdout.decode(env["PYTHONIOENCODING"])


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        # Holds and delays as the plans promise them.
        ("flat-loop-6", "One press lights the lamp for 5.4 s, 0.1 s after it."),
        ("stacked-loop-4", "One press lights the lamp for 6.8 s, 0.1 s after it."),
        ("latch", "One press of set lights the barrier for good, 0.1 s after it."),
        ("drain-timer", "One flip lights the lamp for 12.65 s, 0.1 s after it."),
        ("torch-clock", "After one flip the beat goes on and off without end."),
    ],
)
def test_the_answer_is_a_sentence(name, sentence):
    plan = load(EXAMPLES / f"{name}.toml")
    found = main_result(plan, measure(plan))
    assert found is not None
    assert str(answer(plan, found)) == sentence


def test_the_minimum_trigger_says_what_it_gives():
    plan = load(EXAMPLES / "stacked-loop-4.toml")
    (found,) = measure(plan, output="lamp")
    (least,) = measure(plan, output="lamp", length_steps=found.minimum_trigger_steps)
    said = least_text(plan, found, least.hold_steps)
    assert said == "A press of 0.2 s already gives 6 s; this button, 1 s long, gives 6.8 s."
    assert least_text(plan, found, found.hold_steps) == "Any press of 0.2 s or more will do; this button gives 1 s."


def test_a_lever_is_not_pressed():
    plan = load(EXAMPLES / "netlists" / "c17.toml")
    (found,) = measure(plan, trigger="N7", output="N23")
    assert found.minimum_trigger_steps == 3
    assert least_text(plan, found, 7) == "The lever on for 0.15 s already gives 0.35 s."
    assert least_text(plan, found, found.hold_steps) == "The lever must be on for at least 0.15 s."


def test_promises_are_counted_in_words():
    assert promises_text([]) == ""
    assert promises_text([True]) == "The promise is kept."
    assert promises_text([True, True]) == "Both promises are kept."
    assert promises_text([False, False, True]) == "2 of 3 promises are broken."


def test_measure_answers_before_it_gives_figures():
    lines = told("measure", "stacked-loop-4.toml").splitlines()
    assert lines[0] == "One press lights the lamp for 6.8 s, 0.1 s after it."
    assert lines[1].startswith("lamp: A press of 0.2 s already gives 6 s")
    lane = next(i for i, line in enumerate(lines) if line.startswith("lamp  "))
    assert lane < next(i for i, line in enumerate(lines) if "minimum trigger" in line)


def test_compare_shows_plans_as_columns_and_what_differs_in_words():
    out = told("compare", "flat-loop-6.toml", "stacked-loop-3.toml")
    lines = out.splitlines()
    assert " ".join(lines[:2]) == (
        "Both hold 5.4 s. stacked-loop-3 against flat-loop-6: 5 parts fewer, a box 4 cells smaller, and a press of "
        "0.15 s is enough (not 0.4 s), but 2 layers higher."
    )
    (head,) = [line for line in lines if line.startswith("What differs")]
    assert head.split()[2:] == ["flat-loop-6", "stacked-loop-3"]
    (parts,) = [line for line in lines if line.startswith("parts")]
    assert parts.split() == ["parts", "24", "+", "19"]  # the better one has a sign, not only a colour
    assert "hold 5.4 s, 54 ticks" in out[out.index("The same") :]
    alone = told("compare", "flat-loop-6.toml")
    assert alone.splitlines()[0] == "flat-loop-6 holds 5.4 s."


def test_plans_of_one_name_are_called_by_their_paths():
    assert short_names(["a/loop.toml", "b/loop.toml"]) == ["a/loop.toml", "b/loop.toml"]


@pytest.mark.parametrize(
    "words",
    [
        ("measure", "flat-loop-6.toml"),
        ("measure", "edge-detector.toml", "--full"),
        ("compare", "flat-loop-6.toml", "stacked-loop-3.toml", "stacked-loop-4.toml", "flat-loop-8.toml"),
        ("bill", "taps.toml"),
        ("parts",),
        ("rules", "diff", "standard", "older-wire"),
    ],
    ids=" ".join,
)
def test_every_table_fits_80_columns(words):
    out = told(*words)
    tables = [line for line in out.splitlines() if "  " in line.strip() or "─" in line]
    assert tables
    assert [line for line in tables if len(line) > 80] == []


def test_pipes_get_no_colours_and_plain_terminals_plain_signs():
    out = told("check", "edge-detector.toml")
    assert "\033" not in out
    assert "✓" in out
    plain = told("check", "edge-detector.toml", PYTHONIOENCODING="ascii")
    assert "  ok " in plain
    assert plain.isascii()
    assert told("compare", "flat-loop-6.toml", "latch.toml", PYTHONIOENCODING="ascii").isascii()


def test_a_terminal_gets_colours_unless_they_are_not_wanted(monkeypatch):
    from tickwright.cli.style import styled, verdict_mark

    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    assert styled("a", "bad") == "a"
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    assert styled("a", "bad") == "\033[31ma\033[0m"
    assert verdict_mark(True) != verdict_mark(False)
    monkeypatch.setenv("NO_COLOR", "1")
    assert styled("a", "bad") == "a"


def test_prose_fits_the_window_of_a_terminal_and_stays_one_line_in_a_pipe(monkeypatch, capsys):
    from tickwright.cli.style import print_wrapped

    line = "  such as: " + " | ".join(["acdefghijklm"] * 12)
    monkeypatch.setenv("COLUMNS", "80")
    print_wrapped(line)
    assert capsys.readouterr().out == line + "\n"
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    print_wrapped(line)
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 3
    assert max(map(len, lines)) <= 80
    assert all(one.startswith("    ") for one in lines[1:])
    assert " ".join(one.strip() for one in lines) == line.strip()


def test_what_never_comes_on_is_said_once(call):
    out = call("check", EXAMPLES / "latch.toml")[1]
    assert "reset -> barrier: never comes on\n" in out


@pytest.fixture(scope="module")
def too_short(tmp_path_factory):
    """A plan that promises half a second more than it holds."""
    text = (EXAMPLES / "flat-loop-6.toml").read_text(encoding="utf-8")
    assert text.count('hold = "5.4 s"') == 1
    path = tmp_path_factory.mktemp("short") / "short.toml"
    path.write_text(text.replace('hold = "5.4 s"', 'hold = "5.9 s"'), encoding="utf-8")
    return path


def test_a_hold_that_is_missed_is_told_first_and_drawn(too_short):
    lines = told("check", str(too_short)).splitlines()
    assert lines[0] == "1 of 11 promises is broken. One press lights the lamp for 5.4 s, not 5.9 s."
    wanted, seen = lines[4], lines[5]
    assert (wanted.index("├"), wanted.count("─") + 2) == (13, 59)  # a column is a tick
    assert (seen.count("█"), seen.count("╱")) == (54, 5)
    assert lines[6] == "    0.5 s too short"


def test_a_plain_terminal_draws_it_in_plain_signs(too_short):
    lines = told("check", str(too_short), PYTHONIOENCODING="ascii").splitlines()
    assert lines[4].split()[1] == "|" + 57 * "-" + "|"
    assert lines[5].split()[1] == 54 * "#" + 5 * "/"


def test_no_cell_of_a_table_is_broken_inside_a_value():
    text = told("measure", "stacked-loop-3.toml", "--full")
    for value in ("press -> entry", "(3 ticks)", "(43.5 ticks)", "84 steps", "15 at 4,", "(5, 0, 1)"):
        assert value in text
    assert not [line for line in text.splitlines() if line.rstrip().endswith(("->", "(3", "(43.5", " at"))]
