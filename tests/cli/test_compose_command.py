"""`tickwright compose`: what it prints, keeps and refuses, and Ctrl-C while it works."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from pressing import Program
from tickwright.plan import load

BRIEFS = Path(__file__).resolve().parents[2] / "examples" / "briefs"


@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_ctrl_c_keeps_the_best_attempt(tmp_path):
    program = Program("compose", BRIEFS / "code.toml", "--save", tmp_path, "--minutes", "60", "--json")
    program.until(3)
    ended = program.press()
    assert (ended.code, ended.err, ended.left) == (130, "Stopped.\n", [])
    found = json.loads(ended.out)
    assert found["composed"] is False
    if found["file"] is not None:
        assert set(load(found["file"]).triggers) == {"a", "b", "c"}


def test_what_cannot_be_laid_is_saved_as_the_best_attempt(call, tmp_path):
    brief = tmp_path / "tight.toml"
    text = (BRIEFS / "toggle.toml").read_text(encoding="utf-8")
    brief.write_text(text.replace("[inputs]", "room = {size = [12, 12, 6]}\n[inputs]"), encoding="utf-8")
    code, out, _ = call("compose", brief, "--save", tmp_path, "--minutes", "0.05")
    assert code == 1
    assert "best attempt" in out
    assert load(tmp_path / "tight-composed.toml").triggers.keys() == {"press"}


@pytest.mark.parametrize(
    ("name", "instead"),
    [
        ("too-soon", "lamp: on from press + 0.3 s for 0.8 s"),
        ("no-whole-ticks", "lamp: on from press + 1 s for 1 s"),
    ],
)
def test_a_brief_that_cannot_be_had_names_the_claim_and_what_can(call, tmp_path, name, instead):
    code, out, _ = call("compose", BRIEFS / f"{name}.toml", "--save", tmp_path, "--json")
    found = json.loads(out)
    assert code == 1
    assert found["file"] is None
    assert [one["instead"] for one in found["relax"]] == [instead]
