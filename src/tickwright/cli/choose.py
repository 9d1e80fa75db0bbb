"""`tickwright choose`: which circuit to build for a hold."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import Annotated

import typer
from click.core import ParameterSource

from tickwright import Wish, choose, load, parse_duration
from tickwright.cli.files import refuse_what_is_there, write_whole
from tickwright.cli.show import AsJson, Span, print_json, print_spans, print_table, stoppable, time_cell
from tickwright.cli.style import styled, wrapped
from tickwright.design import (
    ANSWERS,
    OUTPUTS_WANTED,
    TABLE_TRIGGERS,
    TRIGGERS,
    Chosen,
    Design,
    Room,
    best_in,
    design_facts,
    lying,
    on_time,
    read_allowed,
    read_cell,
    read_duty,
    read_have,
    read_pitch,
    read_rules,
    read_size,
    read_way,
    room_of,
    table_ranges,
    table_text,
    tell_apart,
)
from tickwright.durations import STEPS_PER_SECOND, duration_text, time_text
from tickwright.errors import UsageError
from tickwright.plan import crop, dumps, load_prices

HEADS = ("", "family", "hold", "error", "delay", "minimum trigger", "recovery", "parts", "price", "box")
SET_IN = "   "


def command(
    context: typer.Context,
    hold: Annotated[str | None, typer.Option("--hold", metavar="DURATION", help="The hold that is wanted.")] = None,
    within: Annotated[str, typer.Option("--within", metavar="DURATION", help="By how much it may be off.")] = "0 steps",
    trigger: Annotated[
        str,
        typer.Option(
            "--trigger", metavar="PART|DURATION", help=f"What is pressed: {', '.join(TRIGGERS)}; or for how long."
        ),
    ] = "short-button",
    delay: Annotated[
        str | None, typer.Option("--delay-at-most", metavar="DURATION", help="The longest delay that will do.")
    ] = None,
    exact_delay: Annotated[
        str | None, typer.Option("--delay", metavar="DURATION", help="The exact delay, from the press to the first on.")
    ] = None,
    recovery: Annotated[
        str | None,
        typer.Option(
            "--recovery-at-most",
            metavar="DURATION",
            help="The longest recovery: from then on a press is answered like the first.",
        ),
    ] = None,
    period: Annotated[
        str | None,
        typer.Option("--period", metavar="DURATION", help="A clock of this period; it runs while a lever is on."),
    ] = None,
    duty: Annotated[
        str | None, typer.Option("--duty", metavar="PART", help="Which part of its period a clock is on: 0.25 or 25%.")
    ] = None,
    inverted: Annotated[
        bool, typer.Option("--inverted", help="The output is on at rest, and off for the hold.")
    ] = False,
    also: Annotated[
        list[str] | None,
        typer.Option(
            "--also",
            metavar="OUTPUT",
            help='A further output: "bell line: on from press + 2 s for 1 s"; may be repeated.',
        ),
    ] = None,
    output: Annotated[
        str, typer.Option("--output", metavar="|".join(OUTPUTS_WANTED), help="What shows the hold; a line is a wire.")
    ] = "any",
    level: Annotated[
        int, typer.Option("--level", metavar="1..15", help="The least level that the line must have.")
    ] = 1,
    distance: Annotated[
        int,
        typer.Option("--distance", metavar="CELLS", help="How many more cells of wire it must have that level behind."),
    ] = 0,
    room: Annotated[
        str | None, typer.Option("--room", metavar="XxYxZ", help="The box of cells that it must fit in.")
    ] = None,
    blocked: Annotated[
        list[str] | None,
        typer.Option("--blocked", metavar="X,Y,Z", help="A cell of the room that is taken; may be repeated."),
    ] = None,
    floor: Annotated[
        Path | None,
        typer.Option("--floor", metavar="PLAN", help="A plan file as the room: its grid, its parts as blocked cells."),
    ] = None,
    enter: Annotated[
        str | None, typer.Option("--in", metavar="SIDE|X,Y,Z", help="Where in the room the trigger must be.")
    ] = None,
    leave: Annotated[
        str | None, typer.Option("--out", metavar="SIDE|X,Y,Z", help="Where in the room the output must be.")
    ] = None,
    have: Annotated[
        str | None,
        typer.Option("--have", metavar="PARTS", help='The most on hand of some kinds: "comparator 4, repeater 10".'),
    ] = None,
    only: Annotated[
        str | None, typer.Option("--only", metavar="KINDS", help='The kinds of parts that may be used: "block, wire".')
    ] = None,
    without: Annotated[
        str | None, typer.Option("--without", metavar="KINDS", help='Kinds that may not be used: "hopper, torch".')
    ] = None,
    prices: Annotated[
        Path | None, typer.Option("--prices", metavar="FILE", help="Your price table; without one each part costs 1.")
    ] = None,
    pitch: Annotated[
        str | None, typer.Option("--pitch", metavar="x|y=CELLS", help="Copies must stand side by side at this pitch.")
    ] = None,
    rules: Annotated[
        list[str] | None,
        typer.Option("--rules", metavar="NAME|FILE", help="A rule set that it must hold under; may be repeated."),
    ] = None,
    answer: Annotated[
        str,
        typer.Option(
            "--second-press",
            metavar="|".join(ANSWERS),
            help="What a second press during the hold does: retriggerable is extends, non-retriggerable ignored.",
        ),
    ] = "any",
    mash_proof: Annotated[
        bool, typer.Option("--mash-proof", help="Only designs that are proved to go off however they are pressed.")
    ] = False,
    claim: Annotated[
        str | None,
        typer.Option("--prove", metavar="CLAIM", help="Also prove of each: settles, never-sticks or expectations."),
    ] = None,
    states: Annotated[
        int, typer.Option("--states", metavar="N", help="Explore at most so many states for each proof.")
    ] = 20_000,
    save: Annotated[
        Path | None, typer.Option("--save", metavar="DIR", help="Write the plans there, with what check holds them to.")
    ] = None,
    table: Annotated[
        bool, typer.Option("--table", help="Instead, print the table of the smallest designs, 1 tick to 10 minutes.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Choose a design for a hold: families propose plans, runs tell what they do, and the best of each sort are shown.

    Every figure is from a run; where a claim was to be proved its proof is told. If nothing fits it says which wish to
    relax, and by how much, and the exit code is 1. Ctrl-C ends the search with what it has found.
    """
    if table:
        _print_table_of_all(context, as_json)
        return
    hold_steps, clock = _hold_and_period(hold, period, duty)
    pressed, length = _trigger(context, trigger, period is not None)
    wish = Wish(
        hold_steps=hold_steps,
        within_steps=parse_duration(within),
        trigger=pressed,
        trigger_steps=length,
        delay_at_most_steps=_steps(delay),
        output=output,
        level=level,
        distance_cells=distance,
        room=_room(room, floor, blocked or (), enter, leave),
        have=None if have is None else read_have(have),
        allowed=read_allowed(only, without),
        prices=None if prices is None else load_prices(prices),
        pitch=None if pitch is None else read_pitch(pitch),
        rules=read_rules(rules or ["standard"]),
        answer=answer,
        mash_proof=mash_proof,
        claim=claim,
        states=states,
        delay_steps=_steps(exact_delay),
        recovery_at_most_steps=_steps(recovery),
        inverted=inverted,
        period_steps=clock,
        also=tuple(also or ()),
    )
    if save is not None:
        refuse_what_is_there(save, "[0-9][0-9]-*.toml")
    with stoppable() as progress:
        chosen = choose(wish, progress)
    if save is not None:
        chosen = replace(chosen, designs=tuple(_saved(chosen.designs, save, wish.room)))
    if as_json:
        print_json(chosen.as_data())
    else:
        _show(chosen)
    if not chosen.designs:
        raise typer.Exit(1)


def _print_table_of_all(context: typer.Context, as_json: bool) -> None:
    """Print what --table asks for, which is no wish."""
    _refuse_others(context)
    with stoppable() as progress:
        if as_json:
            ranges = {trigger: list(table_ranges(trigger, progress)) for trigger in TABLE_TRIGGERS}
            print_json({trigger: [asdict(row) for row in rows] for trigger, rows in ranges.items()})
        else:
            print(table_text(progress))


def _hold_and_period(hold: str | None, period: str | None, duty: str | None) -> tuple[int, int | None]:
    """The hold in steps, and the period if a clock is wanted; its hold is its duty."""
    if hold is None and period is None:
        raise UsageError('Say the hold that is wanted: --hold DURATION, such as --hold "12 s".')
    if duty is not None and (period is None or hold is not None):
        raise UsageError("A duty is part of a period: give --period, and leave --hold out.")
    clock = _steps(period)
    return parse_duration(hold) if hold is not None else on_time(clock or 0, read_duty(duty or "50%")), clock


def _trigger(context: typer.Context, text: str, is_clock: bool) -> tuple[str, int | None]:
    """The kind of the trigger, and for how long it is held if that was given; a lever by itself lets a clock run."""
    if is_clock and context.get_parameter_source("trigger") is ParameterSource.DEFAULT:
        return "lever", None
    return ("lever", parse_duration(text)) if text[:1].isdigit() else (text, None)


def _room(
    size: str | None, floor: Path | None, blocked: Iterable[str], enter: str | None, leave: str | None
) -> Room | None:
    """The room that was described by its size or a floor plan, by blocked cells and by where it is entered and left."""
    return room_of(
        None if size is None else read_size(size),
        None if floor is None else load(floor),
        frozenset(read_cell(text, "--blocked") for text in blocked),
        None if enter is None else read_way(enter, "--in"),
        None if leave is None else read_way(leave, "--out"),
    )


def _steps(text: str | None) -> int | None:
    return None if text is None else parse_duration(text)


def _refuse_others(context: typer.Context) -> None:
    """Refuse what else was given with --table: none is passed over in silence."""
    for one in context.command.params:
        source = context.get_parameter_source(one.name or "")
        if one.name not in ("table", "as_json") and source is not None and source.name == "COMMANDLINE":
            raise UsageError(f"--table is of all holds and takes no wish: give it without {one.opts[0]}.")


def _saved(designs: Iterable[Design], folder: Path, room: Room | None) -> Iterator[Design]:
    """The designs with the files that they were written to, turned as they lie in the room, without its empty cells."""
    folder.mkdir(parents=True, exist_ok=True)
    for number, design in enumerate(designs, 1):
        path = folder / f"{number:02}-{design.family.replace(' ', '-')}.toml"
        plan = crop(lying(design, room))
        write_whole(path, dumps(plan))
        yield replace(design, plan=plan, file=str(path))


def _show(chosen: Chosen) -> None:
    wish = chosen.wish
    if chosen.designs:
        print(styled(_sentence(chosen), "bold"))
    plans = "plan" if chosen.proposed == 1 else "plans"
    print(f"{chosen.proposed:,} {plans} proposed, {chosen.run} run." + (" Stopped before the end." * chosen.stopped))
    if chosen.reason is not None:
        print(chosen.reason)
    if chosen.designs:
        heads = [head for head in HEADS if head != "price" or wish.prices is not None]
        rows = [_row(number, design, wish) for number, design in enumerate(chosen.designs, 1)]
        print_table(f"For a hold of {time_text(wish.hold_steps)}:", heads, rows)
        tags = best_in(chosen.designs)
        for number, design in enumerate(chosen.designs, 1):
            tag = tags.get(number - 1, "")
            told = wrapped(f"{number}: {tag}{'; ' * bool(tag)}{_about(design)}", SET_IN)
            print(told.replace(tag, styled(tag, "good"), 1) if tag else told)
        for number, other in enumerate(chosen.designs[1:], 2):
            print(wrapped(f"1 against {number}: {tell_apart(chosen.designs[0], other).text}.", SET_IN))
        spans = [Span(f"{number}", d.delay_steps, d.hold_steps) for number, d in enumerate(chosen.designs, 1)]
        print_spans(spans)
        print(f"Times assume a world at its full {STEPS_PER_SECOND} steps a second.")
    for advice in chosen.relax:
        print(f"It can be had if you relax {advice.text}.")


def _sentence(chosen: Chosen) -> str:
    """How many designs hold what is wished for, and how small the smallest is."""
    exact = [design for design in chosen.designs if not design.error_steps]
    shown = exact or chosen.designs
    hold = duration_text(chosen.wish.hold_steps)
    what = f"{'holds' if len(shown) == 1 else 'hold'} exactly {hold}" if exact else f"near {hold}"
    count = f"{len(shown)} design{'' if len(shown) == 1 else 's'}"
    return f"{count} {what}; the smallest has {min(design.parts for design in shown)} parts."


def _row(number: int, design: Design, wish: Wish) -> tuple[str, ...]:
    recovery = time_cell(design.recovery_steps)
    return (
        str(number),
        design.family,
        time_cell(design.hold_steps),
        "0" if design.error_steps == 0 else f"{design.error_steps:+} steps",
        time_cell(design.delay_steps),
        time_cell(design.minimum_trigger_steps),
        recovery if design.recovery_exact or recovery == "-" else f"at most\n{recovery}",
        str(design.parts),
        *([f"{design.price:g}"] if wish.prices is not None else []),
        "x".join(map(str, design.box)),
    )


def _about(design: Design) -> str:
    """The settings of a design, how it lies in the room, what was found of it, and its file."""
    return "; ".join([*design_facts(design), *([f"saved as {design.file}"] if design.file else [])])
