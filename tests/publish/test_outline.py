"""The outline of a talk, from the dossier of a plan whose figures were worked out by hand elsewhere."""

from __future__ import annotations

from pathlib import Path

from tickwright.dossier import gather
from tickwright.plan import load, priced_bill
from tickwright.publish import talk_outline
from tickwright.publish.film import Caption

PLAN = load(Path(__file__).resolve().parents[2] / "examples/flat-loop-2.toml")


def test_the_outline_tells_what_the_dossier_knows():
    text = talk_outline(gather(PLAN), priced_bill(PLAN), [Caption(0, 1.25, 3.0, ("press is pressed.",))])
    lines = [line for line in text.splitlines() if line[:1].isdigit()]
    titles = ("What it does", "What it takes", "Build it", "Press it", "What can go wrong", "Say at the end")
    assert lines == [f"{number}. {title}" for number, title in enumerate(titles, 1)]
    assert "press: lamp comes on after 0.1 s (1 tick) and holds 2.6 s (26 ticks)." in text
    assert "   - 1.2 s: press is pressed." in text
    assert "A trigger of 3 steps may make of entry a train instead." in text
    assert "full 20 steps a second" in text
    assert max(map(len, text.splitlines())) <= 100
