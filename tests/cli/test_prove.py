"""`tickwright prove`: what it prints, its exit codes, and Ctrl-C."""

from __future__ import annotations

import importlib
import json
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tickwright import prove

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "examples"


def tickwright(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "tickwright", *words], capture_output=True, text=True, check=False)


def test_proved_prints_the_bound_and_the_states():
    done = tickwright("prove", str(EXAMPLES / "flat-loop-2.toml"), "--claim", "settles")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith(
        "proved: from every state, hands off, everything comes to rest; the longest takes 2.7 s"
    )
    assert "any number of presses of press at any step" in done.stdout
    assert "Explored 195 states with 231 moves" in done.stdout


def test_refuted_gives_a_line_that_replays():
    done = tickwright("prove", str(EXAMPLES / "pulse-shortener.toml"), "--claim", "expectations")
    assert done.returncode == 1
    replay = next(line for line in done.stdout.splitlines() if line.startswith("Replay: tickwright run "))
    assert '--do 0:press --do 20:press --for "' in replay
    path, *words = replay.removeprefix("Replay: tickwright run ").replace('"', "").split(" --")
    words = [word for pair in words for word in (f"--{pair.split(' ', 1)[0]}", pair.split(" ", 1)[1])]
    assert tickwright("run", path, *words).returncode == 0


def test_json_is_one_document():
    plan = str(EXAMPLES / "latch.toml")
    done = tickwright("prove", plan, "--claim", "never-sticks", "--hands", "2", "--grid", "1 tick", "--json")
    data = json.loads(done.stdout)
    assert done.returncode == 1
    assert {name: data[name] for name in ("plan", "rules", "verdict", "counterexample")} == {
        "plan": plan,
        "rules": "standard",
        "verdict": "refuted",
        "counterexample": ["0:set"],
    }


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--claim", "hold"], 'There is no claim "hold". Did you mean "holds"?'),
        (["--claim", "holds", "--within", "3"], 'The duration "3" has no unit'),
        (["--claim", "settles", "--hands", "few"], 'The hand cannot press "few" times'),
        (["--claim", "settles", "--grid", "0 steps"], 'A grid of "0 steps" has no steps'),
    ],
)
def test_bad_usage_is_one_message(words, message):
    done = tickwright("prove", str(EXAMPLES / "flat-loop-2.toml"), *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(f"tickwright: {message}")
    assert done.stderr.count("\n") == 1


def test_stopped_by_hand_it_says_what_was_explored(monkeypatch, call):
    proving = importlib.import_module("tickwright.cli.prove")

    def interrupted(*words, **options):
        signal.raise_signal(signal.SIGINT)  # as Ctrl-C just after the search began
        return prove(*words, **options)

    monkeypatch.setattr(proving, "prove", interrupted)
    code, out, err = call("prove", EXAMPLES / "taps-loop.toml", "--claim", "settles")
    assert (code, err) == (130, "Stopped.\n")
    assert out.startswith("undecided: stopped by hand: no state found so far breaks the claim")
    assert "Explored " in out
