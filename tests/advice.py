"""Wish at random, judge what `choose` answers, follow its advice: `python dev.py advice [--wishes N] [--seed S]`.

A wish is a hold with any of: a room, what a second press does, parts on hand, a delay, a recovery, an inverted output,
another trigger, rules, further outputs; or a clock. What meets it is saved, held by `check`, and run again here: hold,
delay, level at rest, room, parts and second presses must be as wished. What cannot be had must be told with advice, and
each advice is typed as its `options` say and must be met. Each answer is written down at once in `out/advice`, so that
a run that was stopped goes on where it was; `--again` begins anew.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import resource
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from itertools import count, islice, pairwise
from pathlib import Path

from resuming import add, records
from tickwright import Plan, load, load_rules, run
from tickwright.engine.interface import is_installed

ROOT = Path(__file__).resolve().parents[1]
SEED = "wishes of many sorts"
LONGEST_SECONDS = 900  # of one answer
SETTLED = 400
SHOWN_AGAIN = 2  # designs of each answer that are run again
FURTHER_PRESSES = 3
Options = dict[str, "str | list[str] | bool | None"]  # True: a flag
Choose = Callable[[list[str]], tuple[int, str]]


CLAIMS = (
    "bell line: on from press + 2 s for 1 s", "bell line: 3 pulses of 0.2 s every 1 s from press + 1 s",
    "bell: on from press + 1 s for 0.6 s", "gate line: on from press + 0.8 s for 3 s",
    "bell line: on from press + 1 s for 0.1 s", "gate: on from press for 2 s",
)  # fmt: skip


def _each(name: str, *values: str | list[str] | bool) -> tuple[Options, ...]:
    return tuple({name: value} for value in values)


OTHERS: tuple[tuple[float, tuple[Options, ...]], ...] = (  # how often, and which
    (0.1, _each("--delay", "0.5 s", "1 s", "2.5 s", "0.55 s")),
    (0.1, _each("--delay-at-most", "3 s", "0.2 s", "0 steps")),
    (0.1, _each("--inverted", True)),
    (0.08, _each("--recovery-at-most", "0.1 s", "0.5 s", "2 s")),
    (0.15, _each("--trigger", "long-button", "lever", "tread-plate", "item-plate", "7 ticks")),
    (0.12, _each("--rules", ["standard", "older-wire"])),
    (0.06, _each("--pitch", "y=2", "x=6", "y=4")),
    (0.08, _each("--without", "hopper", "comparator", "torch, hopper")),
    (0.12, _each("--output", "lamp", "line")),
    (0.05, ({"--level": "8", "--output": "line"}, {"--level": "15", "--output": "line"})),
)


# --- what is wished ------------------------------------------------------------------------------------------------


def drawn(seed: str = SEED) -> Iterator[Options]:
    """Wishes without end, always the same for a seed."""
    for number in count():
        draw = random.Random(f"{seed} {number}")
        yield _clock(draw) if draw.random() < 0.08 else _wish(draw)


def _clock(draw: random.Random) -> Options:
    wish: Options = {
        "--period": draw.choice(("0.8 s", "2 s", "3 s", "4 s", "5 s", "12 s", "1 min", "3 min")),
        "--duty": draw.choice(("25%", "50%", "0.8", "1/4")),
    }
    return wish | ({"--room": draw.choice(("6x4x3", "9x6x3", "12x8x4"))} if draw.random() < 0.4 else {})


def _wish(draw: random.Random) -> Options:
    wish: Options = {"--hold": _hold(draw)}
    if draw.random() < 0.15:
        wish["--within"] = draw.choice(("1 step", "1 tick", "0.5 s"))
    several = draw.random() < 0.18
    if several:
        wish["--also"] = draw.sample(CLAIMS, 1) if draw.random() < 0.7 else [CLAIMS[0], CLAIMS[3]]
    if draw.random() < 0.4:
        wish |= _room(draw, several)
    if draw.random() < 0.6:
        wish["--second-press"] = draw.choice(("ignored", "ignored", "extends", "restarts"))
    if draw.random() < 0.3:
        kinds = draw.sample(("comparator", "repeater", "hopper", "torch", "wire", "block"), 2)
        numbers = {kind: (6, 12, 40) if kind in ("wire", "block") else (0, 2, 4, 8, 20) for kind in kinds}
        wish["--have"] = ", ".join(f"{kind} {draw.choice(some)}" for kind, some in numbers.items())
    for chance, others in OTHERS:
        if draw.random() < chance:
            wish |= {name: value for name, value in draw.choice(others).items() if name not in wish}
    if several and wish.get("--trigger") == "7 ticks":
        del wish["--trigger"]  # refused as it is written, not as a wish that cannot be met
    if "--delay" in wish:
        wish.pop("--delay-at-most", None)  # so is a delay that is more than it may be
    return wish


def _hold(draw: random.Random) -> str:
    sort = draw.random()
    if sort < 0.6:
        return f"{draw.randint(3, 240)} ticks"
    if sort < 0.88:
        return draw.choice(("15 s", "20 s", "30 s", "45 s", "1 min", "90 s", "2 min", "5 min", "12 min", "20 min"))
    return f"{2 * draw.randint(2, 150) + 1} steps"


def _room(draw: random.Random, several: bool) -> Options:
    size = [draw.randint(3, 10), draw.randint(2, 8), draw.randint(2, 5)]
    if several:
        size = [draw.choice((14, 24, 40)), draw.choice((14, 24, 40)), draw.choice((4, 6))]
    room: Options = {"--room": "x".join(map(str, size))}
    if draw.random() < 0.3:
        cells = {tuple(draw.randrange(side) for side in size) for _ in range(draw.randint(1, 3))}
        room["--blocked"] = [",".join(map(str, cell)) for cell in sorted(cells)]
    if draw.random() < 0.2:
        room |= {"--in": "west", "--out": draw.choice(("east", "north"))}
    return room


def words(options: Options) -> list[str]:
    """The command line of a wish; an option of several values is repeated."""
    found = ["choose", "--json"]
    for option, value in options.items():
        for one in value if isinstance(value, list) else [value]:
            found += [] if one is None else [option] if one is True else [option, str(one)]
    return found


# --- whether an answer is true -------------------------------------------------------------------------------------


def untrue(wish: Options, choose: Choose, follow: bool = True) -> tuple[int, list[str]]:
    """How many pieces of advice a wish is given, -1 if it is met; and what of the answer is not true.

    It is -2 if no design has the very hold, and the nearest are told with the reason; -3 if a duty is refused that is
    no whole number of steps, and those that are named in its place were answered.

    With `follow` the advice is followed, too.
    """
    with tempfile.TemporaryDirectory() as folder:
        code, out = choose([*words(wish), "--save", f"{folder}/plans"])
        try:
            found = json.loads(out)
        except ValueError:
            return 0, [f"no answer to {wish}: exit {code}, {out[-300:]!r}"]
        if code == 0 and found["designs"]:
            least = min(abs(design["error_steps"]) for design in found["designs"])
            if least > found["wish"]["within_steps"]:  # the nearest, told with a reason: no more is claimed
                wrong = [] if found["reason"] and follow else [f"{wish}: not met, but the nearest without a reason"]
                found["wish"]["within_steps"] = least
                return -2, [
                    *wrong,
                    *(f"{wish}: {text}" for text in misfits(found["wish"], found["designs"][:1], choose)),
                ]
            told = [found["wish"], found["designs"][:SHOWN_AGAIN], choose]
            return -1, [f"{wish}: {text}" for text in misfits(*told)]
        if "relax" not in found:
            return _refused(wish, choose, str(found))
    wrong = [] if found["relax"] else [f"no advice for {wish}"]
    for advice in found["relax"] if follow else ():
        found_then, bad = untrue(wish | advice["options"], choose, follow=False)
        if found_then != -1 or bad:
            wrong += [f"{wish}: {advice['wish']}: {advice['instead']} {advice['options']}", *bad]
    return len(found["relax"]), wrong


def _refused(wish: Options, choose: Choose, told: str) -> tuple[int, list[str]]:
    """A duty that is no whole number of steps is refused; the two nearest, which are named, must be answered."""
    nearest = re.search(r"wish for one of (\S+) and (\S+?)\.", told)
    if nearest is None:
        return 0, [f"{wish}: refused, {told}"]
    found, wrong = zip(*(untrue(wish | {"--duty": duty}, choose) for duty in nearest.groups()), strict=True)
    return -3, [text for several in wrong for text in several] + [f"{wish}: refused, {told}"] * (-3 in found)


def misfits(wish: dict, designs: list[dict], choose: Choose) -> Iterator[str]:
    """What of these designs, read from their files and run again, is not as wished."""
    for design in designs:
        plan = load(design["file"])
        code, _ = choose(["check", design["file"]])
        told = [] if code == 0 else ["check fails"]
        told += [*_as_built(wish, plan), *(_clock_runs(wish, plan) if wish["period_steps"] else _runs(wish, plan))]
        yield from (f"{design['family']} {design['settings']}: {text}" for text in told)


def _as_built(wish: dict, plan: Plan) -> Iterator[str]:
    if wish["room"] is not None:
        sizes = sorted(plan.size[:2]), sorted(wish["room"]["size"][:2])
        if plan.size[2] > wish["room"]["size"][2] or any(a > b for a, b in zip(*sizes, strict=True)):
            yield f"{plan.size} is larger than the room {wish['room']['size']}"
    for kind, number in plan.bill().items():
        if wish["have"] is not None and number > wish["have"].get(kind, number):
            yield f"{number} {kind}, and {wish['have'][kind]} on hand"
        if wish["allowed"] is not None and kind not in wish["allowed"]:
            yield f"{kind} was not to be used"


def _presses(wish: dict, at: int) -> list[str]:
    if wish["trigger_steps"]:
        return [f"{at}:press:on", f"{at + wish['trigger_steps']}:press:off"]
    if wish["trigger"] == "tread-plate":
        return [f"{at}:press:tread", f"{at}:press:leave"]
    return [f"{at}:press"]


Spans = list[tuple[int, int]]


def _away(wish: dict, plan: Plan, rules: str, script: list[str], steps: int) -> tuple[bool, Spans]:
    """Whether the output is on at rest, and when it is otherwise after the press."""
    name = next(iter(plan.outputs))
    engine = "fast" if is_installed("fast") else "reference"
    changes = run(plan, script, steps, rules=load_rules(rules), engine=engine).trace.changes_of(name)
    rest, edges, now = False, [], False
    for step, value in changes:
        if step < SETTLED:
            rest = now = value > 0
        elif (value > 0) != now:
            now = not now
            edges.append(step - SETTLED)
    edges += [steps] * (len(edges) % 2)
    return rest, list(zip(edges[::2], edges[1::2], strict=True))


def _runs(wish: dict, plan: Plan) -> Iterator[str]:
    for rules in wish["rules"]:
        steps = SETTLED + 2 * wish["hold_steps"] + 2 * (wish["delay_steps"] or 0) + 800
        rest, spans = _away(wish, plan, rules, _presses(wish, SETTLED), steps)
        if rest != wish["inverted"]:
            yield f"under {rules} it is {'on' if rest else 'off'} at rest"
        if not spans:
            yield f"under {rules} nothing comes"
            continue
        hold = spans[-1][1] - spans[0][0]
        if len(spans) != 1 or abs(hold - wish["hold_steps"]) > wish["within_steps"]:
            yield f"under {rules} it comes at {spans}"
        if wish["delay_steps"] is not None and spans[0][0] != wish["delay_steps"]:
            yield f"under {rules} the delay is {spans[0][0]} steps"
        if wish["delay_at_most_steps"] is not None and spans[0][0] > wish["delay_at_most_steps"]:
            yield f"under {rules} the delay is {spans[0][0]} steps, too late"
    if wish["answer"] != "any":
        yield from _second(wish, plan)


def _second(wish: dict, plan: Plan) -> Iterator[str]:
    """Further presses at a few moments of the hold."""
    until = SETTLED + 4 * wish["hold_steps"] + 1200
    _, [(on, off), *_] = _away(wish, plan, wish["rules"][0], _presses(wish, SETTLED), until)
    draw = random.Random(str(wish))
    rules, trigger = load_rules(wish["rules"][0]), wish["trigger"]
    released = rules.button_steps(trigger) if "button" in trigger else 2
    if trigger == "tread-plate":
        released = rules.look_every(trigger)  # it stays on until it looks again
    first = max(released, on + 2 if wish["answer"] == "restarts" else 0)
    for _ in range(FURTHER_PRESSES if first < off - on else 0):
        at = draw.randrange(first, off - on)
        script = [*_presses(wish, SETTLED), *_presses(wish, SETTLED + at)]
        _, spans = _away(wish, plan, wish["rules"][0], script, until)
        good = {
            "ignored": spans == [(on, off)],
            "extends": len(spans) == 1 and spans[0][0] == on and spans[0][1] > off,
            "restarts": len(spans) == 2 and spans[1] == (on + at, off + at) and spans[0][1] <= at + 10,
        }
        if not good[wish["answer"]]:
            yield f"a second press {at} steps later is not {wish['answer']}: {spans}, not {(on, off)}"


def _clock_runs(wish: dict, plan: Plan) -> Iterator[str]:
    period = wish["period_steps"]
    _, spans = _away(wish, plan, wish["rules"][0], [f"{SETTLED}:press"], SETTLED + 6 * period + 600)
    spans = spans[:-1]  # the last may be cut short by the end of the run
    if len(spans) < 4 or any(abs(off - on - wish["hold_steps"]) > wish["within_steps"] for on, off in spans):
        yield f"on at {spans[:6]}"
    if any(b[0] - a[0] != period for a, b in pairwise(spans)):
        yield f"the period is not {period}: {spans[:6]}"


# --- all of them ---------------------------------------------------------------------------------------------------


def run_choose(line: list[str]) -> tuple[int, str]:
    """Run the program as a person does."""
    try:
        command = [sys.executable, "-m", "tickwright", *line]
        done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=LONGEST_SECONDS)
    except subprocess.TimeoutExpired:
        return -1, f"no answer within {LONGEST_SECONDS} s"
    return done.returncode, done.stdout if done.returncode in (0, 1) else f"{done.stdout}{done.stderr}"


def main() -> int:
    """Wish, judge, and follow the advice; 1 if anything is not true."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--wishes", type=int, default=200, help="how many wishes are drawn")
    parser.add_argument("--seed", default=SEED, help="other wishes for other words")
    parser.add_argument("--only", type=int, action="append", help="only the wish of this number, from 1; repeatable")
    parser.add_argument("--again", action="store_true", help="begin anew")
    options = parser.parse_args()
    kept = ROOT / "out" / "advice" / f"{options.seed.replace(' ', '-')}.jsonl"
    known: dict[int, tuple[int, list[str], float]] = {}
    for number, found, wrong, seconds in records(kept, options.again):
        known[number] = (found, wrong, seconds)
    for number, wish in enumerate(islice(drawn(options.seed), options.wishes), 1):
        if options.only and number not in options.only:
            continue
        if number not in known or options.only:
            timed = _Timed()
            known[number] = (*untrue(wish, timed), timed.first_seconds)
            add(kept, [number, *known[number]])
        found, wrong, seconds = known[number]
        told = f"{number}: {json.dumps(wish)}: {SORTS.get(found, f'{found} advised')}, {seconds:.1f} s"
        print(told, *wrong, sep="\n  ", flush=True)
    return _summary({number: one for number, one in known.items() if number <= options.wishes})


SORTS = {-1: "met", -2: "nearest told", -3: "refused, the two nearest named"}


class _Timed:
    """Runs the program, and keeps how many seconds of CPU the first answer took, which is the wish's own."""

    def __init__(self) -> None:
        self.first_seconds = 0.0

    def __call__(self, line: list[str]) -> tuple[int, str]:
        before = _child_seconds()
        answer = run_choose(line)
        self.first_seconds = self.first_seconds or _child_seconds() - before
        return answer


def _child_seconds() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _summary(known: dict[int, tuple[int, list[str], float]]) -> int:
    counts = Counter("false" if wrong else SORTS.get(found, "advised") for found, wrong, _ in known.values())
    advices = sum(max(found, 0) for found, _, _ in known.values())
    seconds = sorted(took for _, _, took in known.values())
    print(
        f"{len(known)} wishes: {counts['met']} met, {counts['nearest told']} told the nearest hold, "
        f"{counts['advised']} told impossible with advice that is true ({advices} pieces of advice in all), "
        f"{counts[SORTS[-3]]} refused with the nearest named, "
        f"{counts['false']} false or "
        f"unanswered; seconds of CPU for an answer: median {seconds[len(seconds) // 2]:.1f}, most {seconds[-1]:.1f}"
    )
    return 1 if counts["false"] else 0


if __name__ == "__main__":
    sys.exit(main())
