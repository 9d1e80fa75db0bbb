"""What shells complete: kinds, codes, rule sets, and the names in the plan that stands on the line."""

from __future__ import annotations

from pathlib import Path

import pytest

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("parts rep", ["repeater"]),
        ("explain loop-never", ["loop-never-fades"]),
        ("rules older", ["older-wire"]),
        ("measure taps.toml --output ", ["joined", "bell"]),
        ("measure taps.toml --trigger pr", ["press"]),
        ("measure latch.toml --trigger ", ["set", "reset"]),
        ("run latch.toml --do 0:", ["0:set", "0:reset"]),
        ("run latch.toml --do 12:set:", ["12:set:press"]),
        ("run latch.toml --do 12", []),
        ("run nothing.toml --do 12:", []),
        ("run latch.toml --rules st", ["standard"]),
        ("prove latch.toml --claim se", ["settles"]),
        ("prove latch.toml --chart what", ["what it does"]),
        ("choose --only block,wi", ["block,wire"]),
        ("choose --without hop", ["hopper"]),
    ],
)
def test_the_shell_completes(call, monkeypatch, line, expected):
    monkeypatch.chdir(EXAMPLES)
    monkeypatch.setenv("_TICKWRIGHT_COMPLETE", "complete_bash")
    monkeypatch.setenv("COMP_WORDS", f"tickwright {line}")
    monkeypatch.setenv("COMP_CWORD", str(len(f"tickwright {line}".split(" ")) - 1))
    code, out, err = call()
    assert (code, err) == (0, "")
    assert [word for word in out.splitlines() if word] == expected
