"""What a further press does, judged by a plain reading of the page that defines charts, for tests alone.

A circuit is only asked for whole runs: the steps in which its outputs are on when the hand acts so. Nothing is copied
half way, nothing is shifted, and no state is looked at. A trigger is a button of so many steps, a lever or a tread
plate; its own events are worked out from the acts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from charts.plain import BeforeTime, Line, condition_text, holds, kept, moment_text, times

Acts = tuple[
    tuple[int, str, str], ...
]  # (step from time 0, trigger, what is done), in the order in which they are done
Shown = Callable[[Acts, int], dict[str, list[int]]]  # what outputs show in each step when these are done

READY_STEPS = 800
UNTRIED_STEPS = 170  # "ready" is tried up to so long before the end of the run: circuits here rest long before that
HALF_A_SECOND = 10
TICK = 2


@dataclass
class Circuit:
    """A circuit to be asked: `held` says of each trigger how long a press lasts, None of one that holds on.

    `plates` are the triggers that are trodden and left. `steps` is how far every run is looked at.
    """

    shown: Shown
    held: dict[str, int | None]
    plates: frozenset[str]
    steps: int

    def line(self, acts: Acts) -> Line:
        """The run with these acts."""
        levels = self.shown(acts, self.steps)
        before = self.shown((), 1)
        line = Line(self.steps, {}, {}, {}, {}, {}, {})
        first = min((step for step, _, _ in acts), default=0)
        for name, values in levels.items():
            line.level[name] = values
            line.on[name] = [value > 0 for value in values]
            line.before[name] = before[name][0] > 0
            line.rest[name] = line.on[name][first - 1] if first else line.before[name]
        for name in self.held:
            self._trigger(line, name, [(step, verb) for step, who, verb in acts if who == name])
        return line

    def _trigger(self, line: Line, name: str, acts: list[tuple[int, str]]) -> None:
        on = [False] * line.steps
        worked, released = [False] * line.steps, [False] * line.steps
        held, down, standing = self.held[name], -1, 0
        for step, verb in acts:
            if step >= line.steps:
                continue
            if held is not None:
                if step < down:
                    continue  # it is down already: nothing happens
                down = step + held
                worked[step] = True
                if down < line.steps:
                    released[down] = True
                on[step:down] = [True] * len(on[step:down])
                continue
            was = standing
            if name in self.plates:
                standing += 1 if verb == "tread" else -min(1, standing)
            else:
                standing = {"flip": 1 - was, "on": 1, "off": 0}[verb]
            if standing == was:
                continue
            (worked if standing > was else released)[step] = True
            on[step:] = [standing > 0] * (line.steps - step)
        line.on[name], line.before[name] = on, False
        line.worked[name], line.released[name] = worked, released


@dataclass
class Answer:
    """Whether a policy is kept; of how many offsets it was asked, and which of them break it."""

    kept: bool
    asked: int
    wrong: list[int]


def judge(
    circuit: Circuit, acts: Acts, trigger: str, policies: list[dict], claims: dict[str, list[dict]], watch: int
) -> list[Answer]:
    """An answer for each of the policies of one trigger, which follow one another."""
    pressed = next(step for step in range(circuit.steps) if circuit.line(acts).worked[trigger][step])
    base = tuple(act for act in acts if act[1] != trigger or act[0] <= pressed)
    line = circuit.line(base)
    own = circuit.held[trigger]
    begin = pressed + (own if own is not None else TICK) + TICK
    after = pressed  # an event counts from the step after this one on
    answers = []
    for policy in policies:
        steps, ends = _steps(line, policy, begin, after, watch)
        wrong = [step for step in steps if not _keeps(circuit, base, line, trigger, pressed, step, policy, claims)]
        answers.append(Answer(bool(steps) and not wrong, len(steps), wrong))
        if ends is not None:
            begin, after = max(begin, ends), max(after, ends - 1)
    return answers


def _steps(line: Line, policy: dict, begin: int, after: int, watch: int) -> tuple[list[int], int | None]:
    """The steps in which a further press is tried, and where the policy ends."""
    if "if" in policy:
        steps = [t for t in range(begin, watch) if holds(line, policy["if"], t)]
        return steps, steps[-1] + 1 if steps else None
    moment = policy["moment"]
    found = [step for step, at in times(line, moment) if at > after] if "event" in moment else [moment["steps"]]
    if not found:
        return [], None
    if policy["word"] == "ready":
        most = min(found[0] + READY_STEPS + 1, line.steps - UNTRIED_STEPS)
        return [t for t in range(found[0], most) if t >= begin], None
    return list(range(begin, found[0])), found[0]


def _keeps(
    circuit: Circuit, base: Acts, first: Line, trigger: str, pressed: int, step: int, policy: dict,
    claims: dict[str, list[dict]],
) -> bool:  # fmt: skip
    further = _with_further(circuit, base, trigger, pressed, step)
    line = circuit.line(further)
    if policy["word"] == "ready":
        return _ready(line, first, step, pressed, claims)
    without = circuit.line(tuple(act for act in base if act[1] != trigger))
    judged = {"ignored": _ignored, "extends": _extends, "restarts": _restarts}[policy["word"]]
    return all(
        judged(_away(line, name, first), _away(first, name, first), step, step - pressed)
        if policy["word"] == "ignored" or first.on[name] != without.on[name]
        else line.on[name] == first.on[name]
        for name in first.level
    )


def _with_further(circuit: Circuit, base: Acts, trigger: str, pressed: int, step: int) -> Acts:
    verb = next(verb for at, who, verb in base if who == trigger and at == pressed)
    more: list[tuple[int, str, str]] = [(step, trigger, verb)]
    if circuit.held[trigger] is None:
        more.insert(0, (max(pressed + 1, step - TICK), trigger, "leave" if trigger in circuit.plates else "off"))
    return tuple(sorted([*base, *more], key=lambda act: act[0]))


def _away(line: Line, name: str, first: Line) -> list[bool]:
    return [on != first.rest[name] for on in line.on[name]]


def _ignored(seen: list[bool], first: list[bool], step: int, by: int) -> bool:
    return seen == first


def _extends(seen: list[bool], first: list[bool], step: int, by: int) -> bool:
    """Spans not over keep their beginnings and end later; those over come again; several: the one it is in is ended."""
    steps = len(seen)
    spans = spans_in(first)
    wanted = [False] * steps

    def paint(begin: int, end: int | None) -> None:
        for t in range(begin, steps if end is None else min(end, steps)):
            wanted[t] = True

    for begin, end in spans:
        later = None if end is None else end + by
        over = end is not None and end <= step
        if len(spans) == 1 and not over:
            paint(begin, later)
        else:
            if len(spans) == 1 or begin <= step:
                paint(begin, end)
            paint(begin + by, later)
    return seen == wanted


def _restarts(seen: list[bool], first: list[bool], step: int, by: int) -> bool:
    """At rest at some time in the first half second; from then on all is the first run, moved."""
    steps = len(seen)
    moved = [t >= by and first[t - by] for t in range(steps)]
    rest = [t for t in range(step - 1, step + HALF_A_SECOND + 1) if not seen[t]]
    return any(seen[t + 1 :] == moved[t + 1 :] for t in rest)


def spans_in(away: list[bool]) -> list[tuple[int, int | None]]:
    """The spans of a list of flags, each by its first step and the first after it."""
    found = []
    for t, here in enumerate(away):
        if here and not (t and away[t - 1]):
            found.append((t, next((u for u in range(t, len(away)) if not away[u]), None)))
    return found


def _ready(line: Line, first: Line, step: int, pressed: int, claims: dict[str, list[dict]]) -> bool:
    """All as from the press on, which comes in the same step as in the first run; what was before is forgotten."""
    start = step - pressed
    anew = Line(line.steps - start, {}, {}, {}, dict(first.rest), {}, {})
    for name in line.on:
        anew.on[name] = line.on[name][start:]
        anew.before[name] = line.on[name][start - 1] if start else line.before[name]
    for name in line.level:
        anew.level[name] = line.level[name][start:]
    for name in line.worked:
        anew.worked[name] = [flag and t >= pressed for t, flag in enumerate(line.worked[name][start:])]
        anew.released[name] = [flag and t >= pressed for t, flag in enumerate(line.released[name][start:])]
    try:
        return all(kept(anew, output, of) for output, of in claims.items())
    except BeforeTime:
        return False


def policy_text(policy: dict) -> str:
    """A policy in the notation."""
    if "if" in policy:
        return f"ignored while {condition_text(policy['if'])}"
    return f"{policy['word']} {'from' if policy['word'] == 'ready' else 'until'} {moment_text(policy['moment'])}"
