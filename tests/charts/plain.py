"""A plain interpreter of charts, written straight from the page that defines them, step by step, for tests alone.

A run is arrays with a value for each step. Claims are small tables, which `text_of` writes in the notation; nothing of
the package is used, neither its parser nor its solver.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise


@dataclass
class Line:
    """A run: `on[name][step]` of outputs and triggers, `before[name]`, and in which steps triggers were worked."""

    steps: int
    on: dict[str, list[bool]]
    level: dict[str, list[int]]
    before: dict[str, bool]
    rest: dict[str, bool]
    worked: dict[str, list[bool]]
    released: dict[str, list[bool]]
    state: dict[str, list[str]] = field(default_factory=dict)
    entered: dict[str, list[set[str]]] = field(default_factory=dict)
    left: dict[str, list[set[str]]] = field(default_factory=dict)
    first: dict[str, str] = field(default_factory=dict)


def watch_machines(line: Line, machines: dict) -> None:
    """Let machines watch, one step after another, each by itself in the order given."""
    for name, machine in machines.items():
        line.first[name] = machine["states"][0]
        line.state[name], line.entered[name], line.left[name] = [], [], []
    since = dict.fromkeys(machines, 0)
    last_move: dict[str, int | None] = dict.fromkeys(machines)
    for t in range(line.steps):
        moves = {}
        for name, machine in machines.items():
            was = line.state[name][t - 1] if t else line.first[name]
            deaf = last_move[name] is not None and 1 <= t - last_move[name] <= machine["deaf"] - 1
            for transition in machine["transitions"]:
                if transition["from"] and was not in transition["from"]:
                    continue
                if "after" in transition:
                    waited = t - since[name]
                    falls = waited >= transition["after"] if transition.get("if") else waited == transition["after"]
                else:
                    event = transition["event"]
                    falls = _happens(line, event, t)
                    if deaf and event[1] in ("worked", "released"):
                        falls = False
                if falls and ("if" not in transition or _at_transition(line, transition["if"], t)):
                    moves[name] = transition["to"]
                    break
        for name in machines:
            was = line.state[name][t - 1] if t else line.first[name]
            line.state[name].append(moves.get(name, was))
            line.entered[name].append(
                ({line.first[name]} if t == 0 else set()) | ({moves[name]} if name in moves else set())
            )
            line.left[name].append({was} if name in moves else set())
            if name in moves:
                since[name] = last_move[name] = t


def _at_transition(line: Line, condition: tuple, t: int) -> bool:
    """Triggers at t, outputs and machines at t - 1."""
    if condition[0] == "not":
        return not _at_transition(line, condition[1], t)
    if condition[0] in ("and", "or"):
        parts = [_at_transition(line, part, t) for part in condition[1:]]
        return all(parts) if condition[0] == "and" else any(parts)
    if condition[0] == "is":
        return (line.state[condition[1]][t - 1] if t else line.first[condition[1]]) == condition[2]
    name, wanted = condition[1], condition[2]
    if name in line.worked:
        return line.on[name][t] == wanted
    return (line.on[name][t - 1] if t else line.before[name]) == wanted


def holds(line: Line, condition: tuple, t: int) -> bool:
    """Whether a condition holds at the end of step t; before time 0 all is at rest."""
    if condition[0] == "not":
        return not holds(line, condition[1], t)
    if condition[0] in ("and", "or"):
        parts = [holds(line, part, t) for part in condition[1:]]
        return all(parts) if condition[0] == "and" else any(parts)
    if condition[0] == "is":
        return (line.state[condition[1]][t] if t >= 0 else line.first[condition[1]]) == condition[2]
    name, wanted = condition[1], condition[2]
    if t < 0:
        return (line.before[name] if name in line.worked else line.rest[name]) == wanted
    return line.on[name][t] == wanted


def _happens(line: Line, event: tuple, t: int) -> bool:
    name, what = event[0], event[1]
    if what == "worked":
        return line.worked[name][t]
    if what == "released":
        return line.released[name][t]
    if what in ("on", "off"):
        was = line.on[name][t - 1] if t else line.before[name]
        return line.on[name][t] != was and line.on[name][t] == (what == "on")
    return event[2] in (line.entered if what == "enters" else line.left)[name][t]


def times(line: Line, moment: dict) -> list[tuple[int, int]]:
    """Each time a moment comes: the step it names, and the step of its event."""
    if "event" not in moment:
        return [(moment["steps"], moment["steps"])]
    found = []
    number = 0
    for t in range(line.steps):
        if not _happens(line, moment["event"], t):
            continue
        number += 1
        if "nth" in moment and number != moment["nth"]:
            continue
        if "every" in moment and number % moment["every"] != 0:
            continue
        if "if" in moment and not holds(line, moment["if"], t):
            continue
        found.append((t + moment["steps"], t))
    return found


def spans_of(line: Line, clause: dict) -> list[tuple[int, int | None]]:
    """The spans that a clause names, each by its first step and the first after it."""
    spans = []
    for begin, _ in times(line, clause["from"]):
        until = None
        if "until" in clause:
            moment = clause["until"]
            if "event" in moment:
                later = [step for step, at in times(line, moment) if at > begin]
                until = later[0] if later else None
            else:
                until = moment["steps"]
        if clause["sort"] == "span":
            if "for" in clause:
                spans.append((begin, begin + clause["for"]))
            elif "until" not in clause:
                spans.append((begin, None))
            elif until is not None and until > begin:
                spans.append((begin, until))
            continue
        if "number" in clause:
            starts = [begin + k * clause["every"] for k in range(clause["number"])]
        else:
            starts = []
            at = begin
            while until is not None and at < until:
                starts.append(at)
                at += clause["every"]
        spans += [(at, at + clause["length"]) for at in starts]
    return spans


class BeforeTime(Exception):
    """A span begins before time 0."""


def kept(line: Line, output: str, claims: list[dict]) -> bool:
    """Whether a run keeps all claims of one output together."""
    spans: list[tuple[int, int | None, int]] = []
    free = False
    named = False
    for claim in claims:
        mine = []
        for clause in claim["clauses"]:
            if clause["sort"] in ("span", "train"):
                named = True
                if clause["away"] == ("on" if line.rest[output] else "off"):
                    return False if not _early(line, claims) else _raise()
                mine += spans_of(line, clause)
        if any(clause["sort"] in ("span", "train") for clause in claim["clauses"]):
            free = free or claim.get("free", False)
            if not mine:
                return False if not _early(line, claims) else _raise()
        spans += [(begin, end, claim.get("within", 0)) for begin, end in mine]
    if any(begin < 0 for begin, _, _ in spans):
        raise BeforeTime
    for claim in claims:
        if not all(_alone(line, output, clause, claim.get("within", 0)) for clause in claim["clauses"]):
            return False
    if not named:
        return True
    if any(
        end[0] >= line.steps if end is not None else free and begin[0] >= line.steps for begin, end in _joined(spans)
    ):
        return False
    if free:
        return _inside(line, output, claims, spans)
    away = [on != line.rest[output] for on in line.on[output]]
    return _edges_fit(_joined(spans), away, line.steps)


def _early(line: Line, claims: list[dict]) -> bool:
    return any(
        begin < 0
        for claim in claims
        for clause in claim["clauses"]
        if clause["sort"] in ("span", "train")
        for begin, _ in spans_of(line, clause)
    )


def _raise() -> bool:
    raise BeforeTime


def _joined(spans: list[tuple[int, int | None, int]]) -> list[tuple[tuple[int, int], tuple[int, int] | None]]:
    """Spans that overlap or touch made one: (first step, its give or take), (end, its give or take)."""
    if not spans:
        return []
    far = max([end for _, end, _ in spans if end is not None] + [begin for begin, _, _ in spans]) + 2
    painted = [any(begin <= t and (end is None or t < end) for begin, end, _ in spans) for t in range(far)]
    found = []
    for t in range(far):
        if painted[t] and not (t and painted[t - 1]):
            begin = (t, max(within for b, _, within in spans if b == t))
            stop = next((u for u in range(t, far) if not painted[u]), None)
            end = None if stop is None else (stop, max(within for _, e, within in spans if e == stop))
            found.append((begin, end))
    return found


def _edges_fit(wanted: list, away: list[bool], steps: int) -> bool:
    starts = [t for t in range(steps) if away[t] and not (t and away[t - 1])]
    if len(starts) != len(wanted):
        return False
    for (begin, end), start in zip(wanted, starts, strict=True):
        stop = next((u for u in range(start, steps) if not away[u]), None)
        if abs(start - begin[0]) > begin[1]:
            return False
        if (end is None) != (stop is None):
            return False
        if end is not None and stop is not None and abs(stop - end[0]) > end[1]:
            return False
    return True


def _inside(line: Line, output: str, claims: list[dict], spans: list) -> bool:
    """With `otherwise free`: away in every step of a span that is not nearer than D to an edge, at rest in the gaps."""
    away = [on != line.rest[output] for on in line.on[output]]
    joined = _joined(spans)
    for begin, end in joined:
        last = line.steps if end is None else end[0] - end[1]
        if not all(away[t] for t in range(begin[0] + begin[1], min(last, line.steps))):
            return False
    for claim in claims:
        for clause in claim["clauses"]:
            if clause["sort"] != "train":
                continue
            for start, _ in times(line, clause["from"]):
                one = {**clause, "from": {"steps": start}}
                pulses = spans_of(line, one) if "until" not in clause else _pulses_from(line, clause, start)
                for (_, end), (begin, _) in pairwise(pulses):
                    ends = [e for _, e in joined if e is not None and e[0] == end]
                    begins = [b for b, _ in joined if b[0] == begin]
                    if not ends or not begins:
                        continue  # another span lies over the gap
                    gap = range(end + ends[0][1], begin - begins[0][1])
                    covered = any(b[0] > end and b[0] < begin for b, _ in joined)
                    if not covered and any(away[t] for t in gap if t < line.steps):
                        return False
    return True


def _pulses_from(line: Line, clause: dict, start: int) -> list[tuple[int, int]]:
    whole = spans_of(line, {**clause, "from": {"steps": start}})
    return [(begin, end) for begin, end in whole if end is not None]


def _alone(line: Line, output: str, clause: dict, within: int) -> bool:
    if clause["sort"] == "never":
        return not any(on == (clause["state"] == "on") for on in line.on[output])
    if clause["sort"] == "level":
        levels = [level for level in line.level[output] if level > 0]
        return all(level >= clause["level"] if clause["least"] else level <= clause["level"] for level in levels)
    if clause["sort"] == "while":
        wanted = [holds(line, clause["if"], max(t - clause["late"], -1)) for t in range(line.steps)]
        if within == 0:
            return line.on[output] == wanted
        return _edges_near(_edges(line.on[output], line.rest[output]), _edges(wanted, line.rest[output]), within, line)
    return True


def _edges(values: list[bool], before: bool) -> list[int]:
    return [t for t, value in enumerate(values) if value != (values[t - 1] if t else before)]


def _edges_near(seen: list[int], wanted: list[int], within: int, line: Line) -> bool:
    """Each edge within so many steps; those that may still come when the run ends, or came early, are left out."""
    while len(seen) > len(wanted) and seen[-1] + within >= line.steps:
        seen = seen[:-1]
    while len(wanted) > len(seen) and wanted[-1] + within >= line.steps:
        wanted = wanted[:-1]
    return len(seen) == len(wanted) and all(abs(a - b) <= within for a, b in zip(seen, wanted, strict=True))


# --- the same in words ------------------------------------------------------------------------------------------------


def condition_text(condition: tuple) -> str:
    """A condition in the notation, everything in brackets."""
    if condition[0] == "not":
        return f"not {condition_text(condition[1])}"
    if condition[0] in ("and", "or"):
        return "(" + f" {condition[0]} ".join(condition_text(part) for part in condition[1:]) + ")"
    if condition[0] == "is":
        return f"{condition[1]} is {condition[2]}"
    return f"{condition[1]} {'on' if condition[2] else 'off'}"


def event_text(event: tuple) -> str:
    """An event in the notation."""
    return event[0] if event[1] == "worked" else " ".join(event)


def moment_text(moment: dict) -> str:
    """A moment in the notation."""
    if "event" not in moment:
        return f"{moment['steps']} steps"
    text = event_text(moment["event"])
    if "nth" in moment:
        text = f"{_ordinal(moment['nth'])} {text}"
    if "every" in moment:
        text = f"every {_ordinal(moment['every'])} {text}"
    if moment["steps"]:
        text += f" {'+' if moment['steps'] > 0 else '-'} {abs(moment['steps'])} steps"
    return text + (f" if {condition_text(moment['if'])}" if "if" in moment else "")


def _ordinal(number: int) -> str:
    return f"{number}" + {1: "st", 2: "nd", 3: "rd"}.get(number, "th")


def clause_text(clause: dict) -> str:
    """A clause in the notation."""
    if clause["sort"] == "never":
        return f"never {clause['state']}"
    if clause["sort"] == "level":
        return f"level at {'least' if clause['least'] else 'most'} {clause['level']}"
    if clause["sort"] == "while":
        late = f", late by {clause['late']} steps" if clause["late"] else ""
        return f"on while {condition_text(clause['if'])}{late}"
    begin = moment_text(clause["from"])
    if clause["sort"] == "span":
        if "for" in clause:
            end = f"for {clause['for']} steps"
        else:
            end = f"until {moment_text(clause['until'])}" if "until" in clause else "for good"
        return f"{clause['away']} from {begin} {end}"
    number = f"{clause['number']} " if "number" in clause else ""
    until = f" until {moment_text(clause['until'])}" if "until" in clause else ""
    return f"{number}pulses of {clause['length']} steps every {clause['every']} steps from {begin}{until}"


def claim_text(output: str, claim: dict) -> str:
    """A claim in the notation."""
    text = f"{output}: " + "; ".join(clause_text(clause) for clause in claim["clauses"])
    if claim.get("within"):
        text += f", give or take {claim['within']} steps"
    return text + (", otherwise free" if claim.get("free") else "")


def transition_text(transition: dict) -> str:
    """A transition in the notation."""
    states = ", ".join(transition["from"]) or "any"
    what = f"after {transition['after']} steps" if "after" in transition else event_text(transition["event"])
    more = f" if {condition_text(transition['if'])}" if "if" in transition else ""
    return f"{states}: {what}{more} -> {transition['to']}"
