"""Worlds with other rules, and what would be measured in them: `python dev.py worlds [--worlds N] [--off 4]`.

The values are drawn by a list of its own; what is measured comes from the reference engine, circuit by circuit of the
bench, as `tickwright chart` words it. With `--off` each edge is read off a clock that is up to so many steps wrong.
What was found is written down at once in `out/worlds`: a run that was stopped goes on where it was, `--again` anew.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from resuming import add, records
from tickwright import RuleSet, load_rules, run
from tickwright.charts import draft_chart
from tickwright.diagnosis import Fitted, fit_rules, load_measured
from tickwright.diagnosis.world import bench_names, bench_plan, with_values
from tickwright.errors import TickwrightError

ROOT = Path(__file__).resolve().parents[1]
SPANS = {
    "torch.delay": (1, 8), "lamp.off_delay": (1, 16), "repeater.steps_per_delay": (1, 6), "comparator.delay": (1, 6),
    "button.short": (8, 50), "button.long": (10, 70), "sensor.delay": (1, 6), "sensor.pulse": (1, 8),
    "ejector.delay": (1, 12), "item.rest": (2, 25), "hopper.first_wait": (2, 20), "plate.item_look": (6, 50),
    "plate.tread_look": (6, 50), "plate.counting_look": (4, 30), "piston.travel": (1, 6), "wire.loss": (1, 3),
    "torch.burnout_count": (3, 16), "torch.burnout_rest": (60, 260),
}  # fmt: skip
SWITCHES = ("conducts.lamp", "conducts.ejector", "movable.block", "movable.lamp", "movable.change-sensor")
KNOTS = (  # values that alter the same circuits
    ("lamp.off_delay", "repeater.steps_per_delay", "sensor.pulse"),
    ("button.short", "lamp.off_delay"),
    ("sensor.delay", "comparator.delay", "repeater.steps_per_delay"),
    ("item.rest", "ejector.delay"),
    ("torch.delay", "repeater.steps_per_delay", "torch.burnout_count"),
    ("plate.counting_look", "lamp.off_delay"),
)


class World(NamedTuple):
    """A world: what is otherwise in it than in `standard`."""

    changes: dict[str, int | bool]

    @property
    def rules(self) -> RuleSet:
        """Its rules."""
        return with_values(load_rules(), self.changes, "a world")


def worlds(number: int, seed: str = "worlds") -> list[World]:
    """So many worlds with one to three other values, every other one with values that are entangled."""
    draw = random.Random(seed)
    found = []
    base = load_rules()
    while len(found) < number:
        if len(found) % 2:
            names = list(draw.choice(KNOTS))
        else:
            names = draw.sample([*SPANS, *SWITCHES], draw.choice((1, 1, 2, 3)))
        changes: dict[str, int | bool] = {}
        for name in names:
            if name in SPANS:
                value = draw.randint(*SPANS[name])
                if value != base.value(name):
                    changes[name] = value
            else:
                changes[name] = False
        if changes:
            found.append(World(changes))
    return found


def measured_in(world: World, off: int, draw: random.Random) -> str:
    """A file of what would be measured there; circuits that cannot be built there, or have no chart, are left out."""
    lines = []
    for name in bench_names():
        plan = bench_plan(name)
        chart = plan.charts[0]
        hand = [line.replace(": ", ":") for line in chart.hand or ()]
        steps = [_in_steps(line) for line in hand]
        try:
            if not chart.at_rest:
                shows, watch = _from_the_start(plan, world.rules, chart.watch_steps or 400), chart.watch_steps
            else:
                drafted = draft_chart(plan, steps, chart.watch_steps, rules=world.rules).chart
                shows, watch = drafted.shows, drafted.watch_steps
                if not drafted.at_rest:
                    continue
        except TickwrightError:
            continue
        said = [f'"{_blurred(claim, off, draw)}"' for claim in shows]
        lines += [
            "[[measured]]",
            f'plan = "bench:{name}"',
            f'watch = "{watch} steps"',
            f"observed = [{', '.join(said)}]",
        ]
        lines.append("hand = [" + ", ".join(f'"{line}"' for line in steps) + "]")
        lines += ['starts = "at step 0"'] * (not chart.at_rest)
        lines += [f'give_or_take = "{off} steps"'] * bool(off)
    return "\n".join(lines) + "\n"


def _in_steps(line: str) -> str:
    when, _, words = line.partition(":")
    from tickwright import parse_duration

    return f"{when if when.isdigit() else parse_duration(when)}:{words}"


def _from_the_start(plan, rules, steps):
    trace = run(plan, [], steps, rules, engine="reference").trace
    claims = []
    for name in plan.outputs:
        changes = trace.changes_of(name)
        rest = changes[0][1] > 0
        edges, now = [], rest
        for step, value in changes[1:]:
            if (value > 0) != now:
                now = not now
                edges.append(step)
        word = "off" if rest else "on"
        spans = []
        for number in range(0, len(edges), 2):
            lasts = f"for {edges[number + 1] - edges[number]} steps" if number + 1 < len(edges) else "for good"
            spans.append(f"{word} from {edges[number]} steps {lasts}")
        claims.append(f"{name}: {'; '.join(spans) or ('never off' if rest else 'never on')}")
    return claims


def _blurred(claim: str, off: int, draw: random.Random) -> str:
    """The claim as a clock reads it that is up to half of `off` steps wrong at each edge, edges in their order."""
    import re

    from tickwright import parse_duration

    if not off:
        return claim
    name, _, clauses = claim.partition(": ")
    told, last = [], {}  # `last`: the last edge that was read after each event
    for clause in clauses.split("; "):
        match = re.fullmatch(r"(on|off) from (.+?) for (.+)", clause)
        if match is None:
            told.append(clause)
            continue
        state, moment, lasts = match.groups()
        event, plus, after = ("", "", moment) if moment[0].isdigit() else moment.partition(" + ")
        begin = parse_duration(after) if after else 0
        begins = max(begin + draw.randint(-(off // 2), off // 2), last.get(event, -1) + 1, 0) if after else 0
        ends = begins
        if lasts != "good":
            ends = max(begin + parse_duration(lasts) + draw.randint(-(off // 2), off // 2), begins + 1)
        last[event] = ends
        read = f"{event}{plus}{begins} steps" if after else event
        told.append(f"{state} from {read} for {'good' if lasts == 'good' else f'{ends - begins} steps'}")
    return f"{name}: {'; '.join(told)}"


def found_in(fitted: Fitted, world: World) -> bool:
    """Whether the world is explained: by its values, or others that will do as well, or by fewer."""
    for one in fitted.explained:
        if len(one.changes) < len(world.changes):
            return True  # fewer changes give all that was measured: then no more are looked for
        if set(one.changes) == set(world.changes) and all(
            world.changes[name] == value or world.changes[name] in one.as_well.get(name, [])
            for name, value in one.changes.items()
        ):
            return True
    return False


def main() -> int:
    """Draw worlds, measure in them, find their rules; 1 if any is not found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--worlds", type=int, default=100, help="how many")
    parser.add_argument("--off", type=int, default=0, help="by how many steps an edge may be off")
    parser.add_argument("--seed", default="worlds", help="other worlds for other words")
    parser.add_argument("--again", action="store_true", help="begin anew")
    given = parser.parse_args()
    kept = ROOT / "out" / "worlds" / f"{given.seed.replace(' ', '-')}-{given.off}.jsonl"
    known = records(kept, given.again)
    for number, world in enumerate(worlds(given.worlds, given.seed)):
        if number < len(known):
            continue
        begun = time.process_time()
        fitted, good = _found(world, given.off, f"{given.seed} {number}")
        known.append([good, len(fitted.explained), fitted.complete, time.process_time() - begun])
        add(kept, known[-1])
        told = "" if good else f": not found, but {[one.changes for one in fitted.explained[:4]]}"
        print(f"{number + 1}: {world.changes}, {known[-1][3]:.1f} s{told}", flush=True)
    known = known[: given.worlds]
    right = [one for one in known if one[0]]
    seconds = sorted(one[3] for one in known)
    print(
        f"{len(known)} worlds, {len(right)} among the explanations with the fewest changes, "
        f"{sum(one[1] == 1 for one in right)} as the only one, {sum(not one[2] for one in known)} ended at the bound; "
        f"seconds of CPU, measuring included: median {seconds[len(seconds) // 2]:.1f}, most {seconds[-1]:.1f}"
    )
    return 0 if len(right) == len(known) else 1


def _found(world: World, off: int, seed: str) -> tuple[Fitted, bool]:
    """What is found of a world that is measured, and whether it is right."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "measured.toml"
        file.write_text(measured_in(world, off, random.Random(seed)), encoding="utf-8")
        fitted = fit_rules(load_measured(file))
    return fitted, found_in(fitted, world)


if __name__ == "__main__":
    sys.exit(main())
