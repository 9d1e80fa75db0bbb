"""`tickwright demo`: the main job once through, at the Saltmarsh ferry landing."""

from __future__ import annotations

import sys
from pathlib import Path

import typer

from tickwright import Composed, Measurement, Plan, load, load_brief, load_rules, measure
from tickwright.cli.calling import from_here, own_call, shell_words
from tickwright.cli.compose import composed
from tickwright.cli.show import AsJson, print_json, print_lanes, print_table, time_cell
from tickwright.cli.style import wrapped
from tickwright.durations import STEPS_PER_TICK, duration_text, time_text
from tickwright.engine import is_installed, run
from tickwright.measurement import find_trigger, observe
from tickwright.plan import Setup, examples_folder

CIRCUITS = ("stacked-loop-3", "flat-loop-6", "taps-loop")
LAMP, ENTRY = "lamp", "entry"
SHOWN_STEPS = 400
COLUMNS = 110
BRIEF = "ferry-gate"
PRESSED_AT = 40  # when the gate's button is pressed: the circuit has come to rest


def command(as_json: AsJson = False) -> None:
    """A press at the ferry landing: three circuits for one lamp, measured, and a gate composed from its chart."""
    folder = examples_folder()
    plans = {name: load(folder / f"{name}.toml") for name in CIRCUITS}
    lamps = {name: measure(plan, output=LAMP)[0] for name, plan in plans.items()}
    entries = {name: measure(plan, output=ENTRY)[0] for name, plan in plans.items()}
    tight = min(entries, key=lambda name: entries[name].margin_steps or 0)
    least = entries[tight].minimum_trigger_steps or STEPS_PER_TICK
    short_length = max(least - STEPS_PER_TICK, 1)
    short = measure(plans[tight], output=ENTRY, length_steps=short_length)[0]
    if as_json:
        circuits = [
            {
                "plan": str(folder / f"{name}.toml"),
                "parts": len(plan.cells),
                "box": list(plan.size),
                LAMP: lamps[name].as_data(),
                ENTRY: entries[name].as_data(),
            }
            for name, plan in plans.items()
        ]
        gate = _composed().as_data(None) if is_installed("fast") else None
        print_json({"circuits": circuits, "too_short": {"circuit": tight, **short.as_data()}, "composed": gate})
        return
    print("Saltmarsh ferry landing. A passenger presses the button at the gangway for one second; the lamp over the")
    print("planks must stay on long after that. Three circuits do it. Each was run, step by step:\n")
    heads = ("circuit", "lamp delay", "lamp hold", "minimum trigger", "margin", "parts", "box x,y,z")
    rows = [_row(name, plans[name], lamps[name], entries[name]) for name in CIRCUITS]
    print_table("One press of the button", heads, rows)
    print("The minimum trigger is that of the loop's entry: a press of this length or more gives one pulse there.\n")
    print(f"{tight}, charged by the press:")
    _draw(plans[tight], None)
    print(f"\nWhat you might not notice: {tight} has the least margin. Its trigger must last {time_text(least)}. With")
    print(
        f"{time_text(short_length)} one press gives {len(short.pulses)} pulses at the entry ({short.kind}): the loop is"
    )
    print("not charged all round, and what was let in runs round it with gaps until it fades.")
    _draw(plans[tight], short_length)
    _tell_the_gate()
    print("\nTimes assume a world running at its full 20 steps a second. A lamp that flashes more than three times a")
    print("second can harm people who are sensitive to it (WCAG 2.3.1): measure its period before you show it.")
    words = [*own_call(), "measure", from_here(folder / f"{tight}.toml")]
    print(f"\nThe plans are in {from_here(folder)}. Try:\n\n  {shell_words(*words)}")


def _composed() -> Composed:
    """The gate from its brief; Ctrl-C ends the demo."""
    found, stopped = composed(_brief_file())
    if stopped:
        raise typer.Exit(130)
    return found


def _brief_file() -> Path:
    return examples_folder() / "briefs" / f"{BRIEF}.toml"


def _tell_the_gate() -> None:
    file = _brief_file()
    brief = load_brief(file)
    print("\nThen the gate of the gangway. Nobody draws its circuit: a timing chart says what each output has to do,")
    print(f"and a plan is composed from that ({from_here(file)}):\n")
    for chart in brief.charts:
        for line in chart.shows:
            print(f"  {line}")
    if not is_installed("fast"):
        print("\nThat needs the fast engine, which is not installed here: see docs/install.md.")
        return
    print("\nComposing, which takes some seconds ...", flush=True)
    found = _composed()
    if not found.composed or found.plan is None:
        print(f"It was not composed: {found.why}.", file=sys.stderr)
        raise typer.Exit(1)
    x, y, z = found.plan.size
    claims = [claim for verdict in found.verdicts for claim in verdict.claims]
    kept = sum(claim.passed for claim in claims)
    size = f"{len(found.plan.cells)} parts in {x} x {y} x {z} cells"
    print(f"{size}, composed in {found.seconds:.0f} s. {kept} of {len(claims)} claims are kept in runs.")
    if found.proof is not None:
        print(f"The proof went through {found.proof.states:,} states: {found.proof.verdict}. It is for:")
        print(wrapped(f"  {found.proof.bound}", "  ", COLUMNS))
    who = next(iter(found.plan.triggers))
    print(f"\nThe button {who}, pressed at {duration_text(PRESSED_AT)}:")
    seen = run(found.plan, [f"{PRESSED_AT}:{who}"], SHOWN_STEPS, found.plan.rules)
    print_lanes(seen.trace, list(found.plan.outputs), indent="  ")
    words = [*own_call(), "compose", from_here(file), "--save", "made"]
    print(f"\nTo have that plan: {shell_words(*words)}")


def _draw(plan: Plan, length_steps: int | None) -> None:
    setup = Setup(plan, load_rules(plan.rules))
    seen = observe(setup, find_trigger(setup, next(iter(plan.triggers))), length_steps)
    steps = min(SHOWN_STEPS, (seen.rest_steps or SHOWN_STEPS) + 20)
    print_lanes(seen.trace(steps), [LAMP, ENTRY], indent="  ")


def _row(name: str, plan: Plan, lamp: Measurement, entry: Measurement) -> tuple[str, ...]:
    return (
        name,
        time_cell(lamp.delay_steps),
        time_cell(lamp.hold_steps),
        time_cell(entry.minimum_trigger_steps),
        time_cell(entry.margin_steps),
        str(len(plan.cells)),
        "x".join(map(str, plan.size)),
    )
