"""`tickwright demo`: the main job once through, at the Saltmarsh ferry landing."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

from tickwright import Measurement, Plan, load, load_rules, measure
from tickwright.cli.show import AsJson, print_json, print_table, time_text
from tickwright.errors import UsageError
from tickwright.measure import find_trigger, observe
from tickwright.publish import lanes

CIRCUITS = ("taps", "stacked-loop-3", "flat-loop-6")
OUTPUT = "lamp"
SHOWN_STEPS = 400


def command(as_json: AsJson = False) -> None:
    """A press at the ferry landing: three circuits for one lamp, measured side by side."""
    folder = examples_folder()
    plans = {name: load(folder / f"{name}.toml") for name in CIRCUITS}
    measured = {name: measure(plan, output=OUTPUT)[0] for name, plan in plans.items()}
    longest = max(measured, key=lambda name: measured[name].minimum_trigger_steps or 0)
    least = measured[longest].minimum_trigger_steps or 2
    short = measure(plans[longest], output=OUTPUT, length_steps=least - 2)[0]
    if as_json:
        circuits = [{"plan": str(folder / f"{name}.toml"), **_data(plans[name], measured[name])} for name in CIRCUITS]
        print_json({"circuits": circuits, "too_short": {"circuit": longest, **short.as_data()}})
        return
    print("Saltmarsh ferry landing. A passenger presses the button at the gangway for one second; the lamp over the")
    print("planks must burn on after the hand has gone. Three circuits could do it. Each was run, step by step:\n")
    heads = ("circuit", "kind", "delay", "hold", "minimum trigger", "margin", "parts", "box x,y,z")
    print_table("One press of the button", heads, [_row(name, plans[name], measured[name]) for name in CIRCUITS])
    print(f"\nThe lamp of {longest}, step by step:")
    _draw(plans[longest], None)
    print(f"\nWhat the eye does not catch: {longest} needs a trigger of {time_text(least)}. With one tick less,")
    pulses = "no pulse" if not short.pulses else f"{len(short.pulses)} pulse{'s' * (len(short.pulses) > 1)}"
    print(f"{time_text(least - 2)}, one press gives {pulses} ({short.kind}), from first on to last off")
    print(f"{time_text(short.hold_steps)}: it was not charged, and runs round like a clock until it fades.")
    _draw(plans[longest], least - 2)
    print("\nTimes assume a world running at its full 20 steps a second. A lamp that flashes more than three times a")
    print("second can harm people who are sensitive to it (WCAG 2.3.1): look before you show such a circuit.")
    print(f"\nThe plans are in {folder}. Try: tickwright measure {folder / (longest + '.toml')}")


def examples_folder() -> Path:
    """Where the example plans lie: in the package as installed, else beside the source."""
    here = Path(__file__).resolve()
    for folder in (here.parents[1] / "examples", here.parents[3] / "examples"):
        if folder.is_dir():
            return folder
    raise UsageError(f"The example plans are not beside {here.parents[1]}: install tickwright again.")


def _draw(plan: Plan, length_steps: int | None) -> None:
    rules = load_rules(plan.rules)
    seen = observe(plan, rules, find_trigger(plan, rules, next(iter(plan.triggers))), length_steps)
    steps = min(SHOWN_STEPS, (seen.rest_steps or SHOWN_STEPS) + 20)
    width = min(shutil.get_terminal_size((100, 24)).columns, 120)
    for line in lanes(seen.trace(steps), [OUTPUT], width - 2):
        print("  " + line)


def _row(name: str, plan: Plan, result: Measurement) -> tuple[str, ...]:
    return (
        name,
        result.kind,
        time_text(result.delay_steps),
        time_text(result.hold_steps),
        time_text(result.minimum_trigger_steps),
        time_text(result.margin_steps),
        str(len(plan.cells)),
        "x".join(map(str, plan.size)),
    )


def _data(plan: Plan, result: Measurement) -> dict[str, Any]:
    return {**result.as_data(), "parts": len(plan.cells), "box": list(plan.size)}
