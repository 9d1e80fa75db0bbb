"""Every command that runs a plan prints the same JSON with either engine, on every example.

`run` takes the engine as an option. The other commands press and look as they go, step by step; here they are given a
simulation that lets the fast engine say what every cell shows and what was found, each time from the start with all
that the hand did so far.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest

from tickwright import load
from tickwright.engine.native import Simulation as FastSimulation
from tickwright.engine.notes import Notes
from tickwright.engine.reference import Simulation
from tickwright.engine.trace import Trace
from tickwright.findings import Finding
from tickwright.plan.hand import Stimulus
from tickwright.plan.setup import Setup
from tickwright.space import Cell

EXAMPLES = sorted((Path(__file__).resolve().parents[2] / "examples").glob("*.toml"))
AHEAD_STEPS = 400  # the fast engine runs at least so far, so that it need not begin again for every look
COMMANDS = {
    "measure": ["measure"],
    "check": ["check"],
    "diagnose": ["diagnose"],
    "levels of every cell": ["export", "--csv", "-o", "levels.csv"],
    "prove": ["prove", "--claim", "settles", "--states", "50"],
}
TOO_LONG = {("hour-counter", name) for name in ("diagnose", "measure", "check")}
IN_FULL = ("stacked-loop-3", "latch", "difference-fader", "edge-detector", "dropped-item")
fast_runs = 0


class FastShows(Simulation):
    """The reference engine decides when something is due; what is shown and found comes from the fast engine."""

    def __init__(
        self,
        setup: Setup,
        watch: Mapping[str, Cell] | None = None,
        sample: Any = None,
        button_steps: Mapping[Cell, int] | None = None,
        *others: Any,
        **named: Any,
    ) -> None:
        self.made = setup
        self.done: tuple[Stimulus, ...] = ()
        self.cells = tuple(dict.fromkeys((*setup.plan.cells, *(watch or {}).values())))
        self.seen: Trace | None = None
        super().__init__(setup, watch, sample, button_steps, *others, **named)
        self.notes = FastNotes(self)

    def copy(self) -> FastShows:
        clone = super().copy()
        clone.notes = FastNotes(clone)
        return clone

    def queue_stimuli(self, acts: Iterable[Stimulus]) -> None:
        new = tuple(acts)
        self.done, self.seen = (*self.done, *new), None
        super().queue_stimuli(new)

    def do(self, act: Stimulus) -> None:
        done = act._replace(step=self.now)
        if done not in self.done:  # what was queued is known already
            self.done, self.seen = (*self.done, done), None
        super().do(act)

    def value(self, cell: Cell) -> int:
        if self.button_levels or self.now < 0:
            return super().value(cell)  # the fast engine knows no buttons of other levels, and no time before step 0
        if cell not in self.cells:
            self.cells, self.seen = (*self.cells, cell), None
        if self.seen is None or self.seen.steps <= self.now:
            self.seen = self.fast(2 * self.now + AHEAD_STEPS)[0]
        return self.seen.value_at(str(cell), self.now)

    def fast(self, steps: int) -> tuple[Trace, tuple[Finding, ...]]:
        """The fast engine's run of so many steps, with all that the hand did so far."""
        global fast_runs  # noqa: PLW0603 - counted, so that a test which never came here fails
        fast_runs += 1
        acts = sorted((act for act in self.done if act.step < steps), key=lambda act: act.step)
        sim = FastSimulation(self.made, {str(cell): cell for cell in self.cells}, acts, self.button_steps)
        sim.advance(steps)
        return sim.trace(steps), sim.notes.findings()


class FastNotes(Notes):
    """What the fast engine found up to the present step."""

    def __init__(self, sim: FastShows) -> None:
        super().__init__()
        self.sim = sim

    def findings(self) -> tuple[Finding, ...]:
        return super().findings() if self.sim.button_levels else self.sim.fast(self.sim.now + 1)[1]


@pytest.fixture
def by_the_fast_engine(monkeypatch):
    """Put FastShows in the place of the reference engine, wherever a command takes it from."""

    def swap() -> None:
        for name, module in list(sys.modules.items()):
            outside = name.startswith("tickwright.") and not name.startswith("tickwright.engine")
            if outside and vars(module).get("Simulation") is Simulation:
                monkeypatch.setattr(module, "Simulation", FastShows)

    return swap


def said(call, words: list[str]) -> Any:
    code, out, err = call(*words, "--json")
    assert (code, err) in ((0, ""), (1, "")), err
    document = json.loads(out)
    if words[0] == "prove":
        assert document.pop("seconds") >= 0  # how long it took
    return document


def both(call, swap, words: list[str], tmp_path: Path) -> None:
    """Assert that the command says the same with either engine, and that the fast one was asked."""
    file = tmp_path / "levels.csv"
    reference, written = said(call, words), file.read_bytes() if file.exists() else None
    before = fast_runs
    swap()
    assert said(call, words) == reference
    assert (file.read_bytes() if file.exists() else None) == written
    assert fast_runs > before


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_run_says_the_same(call, path):
    acts = [word for number, name in enumerate(load(path).triggers) for word in ("--do", f"{60 * (number + 1)}:{name}")]
    words = ["run", str(path), "--for", "600 steps", *acts]
    reference, fast = (said(call, [*words, "--engine", engine]) for engine in ("reference", "fast"))
    assert (reference.pop("engine"), fast.pop("engine")) == ("reference", "fast")
    assert fast == reference


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_command_says_the_same(call, by_the_fast_engine, monkeypatch, tmp_path, command, path):
    if (path.stem, command) in TOO_LONG:
        pytest.skip("an hour's runs, made again for every look, take minutes; its levels are compared")
    monkeypatch.chdir(tmp_path)
    name, *options = COMMANDS[command]
    both(call, by_the_fast_engine, [name, str(path), *options], tmp_path)


@pytest.mark.parametrize("name", IN_FULL)
def test_a_dossier_says_the_same(call, by_the_fast_engine, tmp_path, name):
    path = next(path for path in EXAMPLES if path.stem == name)
    both(call, by_the_fast_engine, ["measure", str(path), "--full"], tmp_path)


def test_a_comparison_says_the_same(call, by_the_fast_engine, tmp_path):
    paths = [str(path) for path in EXAMPLES if path.stem in ("flat-loop-6", "stacked-loop-3")]
    both(call, by_the_fast_engine, ["compare", *paths], tmp_path)


def test_a_sweep_says_the_same(call, by_the_fast_engine, tmp_path):
    path = next(path for path in EXAMPLES if path.stem == "flat-loop-2")
    words = ["sweep", str(path), "--length", "1 step..8 steps", "--rules", "standard", "--workers", "1", "--into"]
    reference = said(call, [*words, str(tmp_path / "reference.sqlite")])
    before = fast_runs
    by_the_fast_engine()
    fast = said(call, [*words, str(tmp_path / "fast.sqlite")])
    assert fast_runs > before
    assert fast["results"] == reference["results"]
    assert len(fast["results"]) == 8


@pytest.mark.parametrize(
    "words", [["tune", "--hold", "3 s"], ["choose", "--hold", "9 ticks"]], ids=lambda words: words[0]
)
def test_designs_are_the_same(call, by_the_fast_engine, tmp_path, words):
    command, *options = words
    plan = [str(path) for path in EXAMPLES if path.stem == "flat-loop-2" and command == "tune"]
    both(call, by_the_fast_engine, [command, *plan, *options], tmp_path)
