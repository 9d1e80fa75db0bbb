"""What is made of a brief or a netlist for the page: the plan with its card, and what is to be said of it in lines."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from tickwright import Plan, load_rules
from tickwright.publish import promises_passed, promises_text
from tickwright.workbench.cards import Card, card_of

if TYPE_CHECKING:
    from tickwright import Composed
    from tickwright.layout import Placed, Told

Tell = Callable[[Any], bool]
MOST_MINUTES = 5.0
SHOWN_REASONS = 8
FULL_SPEED = "Times assume a world at its full 20 steps a second."


class Line(NamedTuple):
    """A sentence; `tone` is "good", "bad" or ""."""

    text: str
    tone: str = ""


class Made(NamedTuple):
    """What came of it: `plan` and `card` are None if there is nothing that works."""

    name: str
    lines: tuple[Line, ...]
    plan: Plan | None = None
    card: Card | None = None


def compose_brief(tell: Tell, text: str, folder: str, seed: int, minutes: float) -> Made:
    """Compose a brief, given as the text of its file; rule sets are looked for in `folder`."""
    from tickwright import compose
    from tickwright.design import read_brief

    brief = read_brief(text, Path(folder) / "brief.toml")
    found = compose(brief, seed, minutes, tell)
    lines = tuple(_of_composed(found))
    if found.plan is None or not found.verdicts:
        return Made("", lines)
    return Made(brief.title or "composed", lines, found.plan, card_of(found.plan, brief.rulesets[0]))


def _of_composed(found: Composed) -> Iterator[Line]:
    if found.plan is None or not found.verdicts:
        yield Line("It cannot be composed." if found.claim else "It was not composed.", "bad")
        if found.claim:
            yield Line(found.claim)
        if found.why:
            yield Line(f"{found.why[:1].upper()}{found.why[1:]}.")
        for one in found.relax:
            yield Line(f"Instead: {one.instead} ({one.amount_steps} steps from what was asked)")
        return
    passed = promises_passed((), found.verdicts)
    x, y, z = found.plan.size
    yield Line(promises_text(passed), "good" if all(passed) else "bad")
    yield Line(f"{len(found.plan.cells):,} parts in {x} × {y} × {z} cells, made in {found.seconds:.0f} s.")
    for chart in found.verdicts:
        for claim in chart.claims:
            detail = f": {claim.detail}" if claim.detail and not claim.passed else ""
            yield Line(f"{'✓' if claim.passed else '✗'} {claim.claim}{detail}", "" if claim.passed else "bad")
    proof = found.proof
    if proof is not None:
        tone = {"proved": "good", "refuted": "bad"}.get(proof.verdict, "")
        yield Line(f"{proof.verdict.capitalize()}: {proof.states:,} states. {proof.detail}".strip(), tone)
        yield Line(f"For: {proof.bound}.")
    yield Line(FULL_SPEED)


def place_netlist(
    tell: Tell, file: str | None, text: str, clock: str | None, room: tuple[int, int, int] | None, seed: int,
    minutes: float,
) -> Made:  # fmt: skip
    """Place a netlist: the file of that path, or a text in BLIF."""
    from tickwright.layout import place_network
    from tickwright.netlist import parse_blif, read_netlist

    network = read_netlist(file, clock, lambda: tell("reading the netlist")) if file else parse_blif(text, clock)
    placed = place_network(network, room, seed=seed, minutes=minutes, progress=lambda told: tell(_progress(told)))
    lines = tuple(_of_placed(placed))
    if not placed.placed:
        return Made("", lines)
    name = Path(file).stem if file else "placed"
    return Made(name, lines, placed.plan, card_of(placed.plan, load_rules(placed.plan.rules)))


def _progress(told: Told) -> str:
    box = " × ".join(map(str, told.room))
    if told.attempt == 0 and told.best is None:
        return f"trying {box} cells exactly"
    best = "nothing yet" if told.best is None or not told.best.done else " × ".join(map(str, told.best.box))
    return f"{told.unrouted} nets not routed in {box}; best: {best}"


def _of_placed(placed: Placed) -> Iterator[Line]:
    data = placed.as_data()
    box = " × ".join(map(str, data["box"]))
    if not placed.placed:
        yield Line("It was not placed. What the best attempt lacks:", "bad")
        for reason in placed.reasons[:SHOWN_REASONS]:
            yield Line(f"- {reason}")
        yield Line("Give it more room, another seed or more minutes.")
        return
    cases = "all cases" if data["complete"] else "cases at random"
    yield Line(f"Placed: {data['parts']:,} parts in {box} cells, in {data['seconds']:.0f} s.", "good")
    yield Line(f"Played against the netlist: {data['vectors']:,} changes ({cases}), none wrong.")
    if data["settle_steps"] is not None:
        yield Line(f"It has settled {data['settle_steps']} steps after a change of an input.")
    if data["least_period_steps"] is not None:
        yield Line(f"A clock may have a period of {data['least_period_steps']} steps or more.")
    yield Line(FULL_SPEED)
