"""`tickwright place`: a netlist in BLIF or Verilog laid as blocks, accepted and played before it is called placed."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from tickwright import load_rules
from tickwright.cli.files import refuse_what_is_there, write_whole
from tickwright.cli.show import AsJson, print_json, stoppable
from tickwright.errors import UsageError
from tickwright.layout import Placed, Told, place_network
from tickwright.netlist import read_netlist
from tickwright.plan import dumps

SIDES = ("north", "south", "east", "west")


def command(
    netlist: Annotated[Path, typer.Argument(help='The netlist: FILE.blif, or FILE.v with the extra "verilog".')],
    save: Annotated[Path, typer.Option("--save", metavar="DIR", help="Write the plan into this folder.")],
    room: Annotated[
        str | None, typer.Option("--room", metavar="XxYxZ", help="The room there is; the smallest found if not given.")
    ] = None,
    pin: Annotated[
        list[str] | None,
        typer.Option("--pin", metavar="NAME=X,Y,Z|SIDE", help="Where an input or output must be; may be repeated."),
    ] = None,
    clock: Annotated[
        str | None, typer.Option("--clock", metavar="NAME", help="The clock of latches that name none.")
    ] = None,
    lines: Annotated[
        bool, typer.Option("--lines", help="Make inputs and outputs bare wires with ports, for use as a module.")
    ] = False,
    seed: Annotated[int, typer.Option("--seed", metavar="N", min=0, help="The same seed gives the same plan.")] = 0,
    minutes: Annotated[
        float | None,
        typer.Option("--minutes", metavar="M", min=0.01, help="Stop after so many minutes, with the best found [5]."),
    ] = None,
    workers: Annotated[
        int | None,
        typer.Option(
            "--workers",
            metavar="N",
            min=1,
            help="How many processes; more of them make more tries [one a core, up to 8].",
        ),
    ] = None,
    rules: Annotated[
        list[str] | None,
        typer.Option("--rules", metavar="NAME|FILE", help="A rule set it must work under; may be repeated."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Place and route a netlist: inputs become levers (thrown is 1), outputs become lamps.

    What is shown as placed was checked: every part hears just what it should, and the plan was played against the
    netlist, turned, mirrored and in other orders. If it cannot be placed the best attempt is saved and the exit code is
    1. Ctrl-C keeps the best so far.
    """
    size = _room(room) if room is not None else None
    pins = dict(_pin(text) for text in pin or ())
    rulesets = [load_rules(name, netlist.parent) for name in rules or ("standard",)]
    goal = save / f"{netlist.stem}.toml"
    refuse_what_is_there(save, goal.name)
    with stoppable() as tell:
        network = read_netlist(
            netlist, clock, lambda: tell(f"reading {netlist.name}; Verilog's first use takes minutes")
        )

        ended = False

        def progress(told: Told) -> bool:
            nonlocal ended
            ended = say(told)
            return ended

        def say(told: Told) -> bool:
            box = "x".join(map(str, told.room))
            if told.attempt == 0 and told.best is None:
                best = "nothing" if told.box is None else "x".join(map(str, told.box))
                return tell(f"placing {netlist.name} exactly in {box}; found so far: {best}")
            best = "nothing yet" if told.best is None else "x".join(map(str, told.best.box))
            if told.best is not None and not told.best.done:
                best = f"{len(told.best.unrouted) + len(told.best.faults)} to mend"
            return tell(f"placing {netlist.name} in {box}: {told.unrouted} nets not routed; best: {best}")

        placed = place_network(network, size, pins, lines, seed, minutes, rulesets, progress, workers)
    save.mkdir(parents=True, exist_ok=True)
    write_whole(goal, dumps(placed.plan))
    if as_json:
        print_json({"netlist": str(netlist), "file": str(goal), **placed.as_data()})
    else:
        _show(placed, goal)
    if ended:
        raise typer.Exit(130)
    if not placed.placed:
        raise typer.Exit(1)


def _room(text: str) -> tuple[int, int, int]:
    words = text.lower().split("x")
    if len(words) != 3 or not all(word.strip().isdecimal() and int(word) > 0 for word in words):
        raise UsageError(f'The room "{text}" is no box: write its cells along x, y and z, such as "24x17x5".')
    x, y, z = map(int, words)
    return (x, y, z)


def _pin(text: str) -> tuple[str, tuple[int, int, int] | str]:
    name, equals, where = text.rpartition("=")
    words = where.split(",")
    if not equals or not name or (where not in SIDES and not (len(words) == 3 and all(w.isdecimal() for w in words))):
        raise UsageError(f'The pin "{text}" cannot be read: write NAME=X,Y,Z or NAME={"|".join(SIDES)}.')
    if where in SIDES:
        return name, where
    x, y, z = map(int, words)
    return name, (x, y, z)


def _show(placed: Placed, goal: Path) -> None:
    data: dict[str, Any] = placed.as_data()
    box = "x".join(map(str, data["box"]))
    if placed.placed:
        print(f"Placed: {goal}, {data['parts']} parts in {box}, {data['seconds']} s.")
        cases = "all cases" if data["complete"] else "cases at random"
        print(f"Played against the netlist: {data['vectors']:,} changes ({cases}), none wrong.")
        if data["settle_steps"] is not None:
            print(f"It has settled {data['settle_steps']} steps after a change of an input.")
        if data["least_period_steps"] is not None:
            print(f"A clock may have a period of {data['least_period_steps']} steps or more.")
        print("Times assume a world at its full 20 steps a second.")
        return
    print(f"Not placed. The best attempt is {goal}, {data['parts']} parts in {box}. What it lacks:")
    for reason in placed.reasons[:20]:
        print(f"- {reason}")
    print("Give it more --room, another --seed or more --minutes.")
