"""The page of `measure --full`: a dossier for people, section by section."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import groupby

from tickwright.cli.show import print_table, time_text
from tickwright.dossier import Answer, Dossier
from tickwright.durations import ticks_text
from tickwright.measure import Lap, LengthRow

MOST_LAP_COLUMNS = 12


def print_full(known: Dossier, rate: float) -> None:
    """Print what follows the table of measures."""
    for section in (_second_press, _phases, _lengths, _distances):
        section(known, rate)
    for plain in (_laps, _order, _neighbours):
        plain(known)
    _rule_sets(known, rate)
    _expectations(known)


def _names(answer: Answer) -> str:
    return f"{answer.measured.trigger} -> {answer.measured.output}"


def _second_press(known: Dossier, rate: float) -> None:
    rows = []
    for answer in known.answers:
        found = answer.retrigger
        runs = [f"{effect} at {span}" for effect, span in _spans(found.presses, lambda press: press.effect)]
        text = found.reason or ", ".join(runs) or "the trigger ignores presses for longer than the hold"
        if found.every_steps > 1:
            text += f" (one offset of {found.every_steps} was tried)"
        recovery = "-" if answer.recovery_steps is None else time_text(answer.recovery_steps, rate)
        rows.append((_names(answer), found.verdict or "-", text, recovery))
    print_table("A second press", ("press", "during the hold", "steps after the first", "recovery"), rows)


def _spans(rows: Iterable, key: Callable) -> Iterator[tuple[str, str]]:  # type: ignore[type-arg]
    """Rows with a number first, those that follow on one another with the same key as one: (key, "20 to 44")."""
    for value, group in groupby(rows, key):
        run = list(group)
        yield value, str(run[0][0]) if len(run) == 1 else f"{run[0][0]} to {run[-1][0]}"


def _phases(known: Dossier, rate: float) -> None:
    rows = []
    for answer in known.answers:
        found = answer.phase
        text = found.reason or f"period of {found.period_steps} steps, {len(found.rows)} phases tried"
        if found.every_steps > 1:
            text += f", every {found.every_steps} steps"
        bounds = [
            "-" if pair is None else " to ".join(time_text(steps, rate) for steps in sorted(set(pair)))
            for pair in (found.delays, found.holds)
        ]
        kinds = ", ".join(sorted({row.kind for row in found.rows}))
        rows.append((_names(answer), text, kinds, *bounds))
    print_table("Phase of the press", ("press", "phases", "kinds", "delay", "hold"), rows)


def _lengths(known: Dossier, rate: float) -> None:
    rows = []
    for answer in known.answers:
        for run in _alike(answer.lengths):
            first, last = run[0], run[-1]
            span = f"{first.length_steps}" if first is last else f"{first.length_steps} to {last.length_steps}"
            if last is answer.lengths[-1] and answer.measured.checked_up_to_steps is None:
                span = f"{first.length_steps} and more"
            pulses = "-" if last.kind in ("clock", "undecided") else str(len(last.pulses))
            delay = time_text(first.delay_steps, rate)
            rows.append((_names(answer), f"{span} steps", last.kind, delay, _hold(first, last), pulses))
    if rows:
        print_table("Trigger lengths", ("press", "trigger length", "kind", "delay", "hold", "pulses"), rows)


def _alike(lengths: Iterable[LengthRow]) -> Iterator[list[LengthRow]]:
    """Lengths in runs in which either the hold or what it is longer than the trigger stays the same."""
    run: list[LengthRow] = []
    for row in lengths:
        together = [*run, row]
        facts = {(one.kind, one.delay_steps, len(one.pulses), one.hold_steps is None) for one in together}
        holds = {one.hold_steps for one in together}
        excess = {(one.hold_steps or 0) - one.length_steps for one in together}
        if len(facts) == 1 and (len(holds) == 1 or len(excess) == 1):
            run = together
        else:
            yield run
            run = [row]
    if run:
        yield run


def _hold(first: LengthRow, last: LengthRow) -> str:
    if last.hold_steps is None:
        return "-"
    if first.hold_steps == last.hold_steps:
        return f"{last.hold_steps} steps"
    excess = last.hold_steps - last.length_steps
    return f"length {'-' if excess < 0 else '+'} {abs(excess)} steps"


def _distances(known: Dossier, rate: float) -> None:
    rows = []
    for answer in known.answers:
        for hold, group in groupby(answer.distances, lambda row: row.hold_steps):
            run = list(group)
            cells = str(run[0].wire_cells) if len(run) == 1 else f"{run[0].wire_cells} to {run[-1].wire_cells}"
            rows.append((_names(answer), cells, time_text(hold, rate)))
    if rows:
        print_table("Hold behind more cells of wire", ("press", "cells", "hold"), rows)


def _laps(known: Dossier) -> None:
    for name, laps in known.laps.items():
        moving = [lap for lap in laps if len(lap.levels) > 1]
        if moving:
            rows = [(str(lap.cell), lap.part, _levels(lap)) for lap in moving]
            title = f"Levels after {name}, each with the step from the press at which it came"
            print_table(title, ("cell", "part", "level at step"), rows)


def _levels(lap: Lap) -> str:
    texts = [f"{level} at {step}" for step, level in lap.levels[1 : MOST_LAP_COLUMNS + 1]]
    return ", ".join(texts) + (", ..." if len(lap.levels) > MOST_LAP_COLUMNS + 1 else "")


def _order(known: Dossier) -> None:
    rows = []
    for verdict in known.order:
        text = f"the same in {len(verdict.variants)} orders and turns"
        if verdict.sensitive:
            first = verdict.partings[0]
            text = (
                f"differs in {len({parting.variant for parting in verdict.partings})}: {first.variant}, {first.output}"
            )
            if first.step is not None:
                text += f" shows {first.value} instead of {first.canonical_value} at step {first.step} from the press"
        rows.append((verdict.trigger, "order-sensitive" if verdict.sensitive else "not sensitive", text))
    print_table("Order of telling, turns and mirror images", ("trigger", "verdict", "what"), rows)


def _neighbours(known: Dossier) -> None:
    rows = []
    for verdict in known.neighbours:
        pitch = "-" if verdict.pitch_cells is None else f"{verdict.pitch_cells} cells"
        text = verdict.reason or "; ".join(str(touch) for touch in verdict.touching[:2]) or "nothing"
        how = f"along {verdict.axis}" + (", mirrored" if verdict.mirrored else "")
        rows.append((how, pitch, text))
    print_table("Neighbours", ("copies", "least pitch", "at one less"), rows)


def _rule_sets(known: Dossier, rate: float) -> None:
    found = known.rule_sets
    rows = []
    for one in found.sets:
        rows += [(one.rules, "refused", one.refused, "", "")] if one.refused else []
        rows += [
            (
                one.rules,
                f"{result.trigger} -> {result.output}",
                result.kind,
                time_text(result.hold_steps, rate) if result.ends else "never ends",
                "-" if result.minimum_trigger_steps is None else ticks_text(result.minimum_trigger_steps),
            )
            for result in one.results
        ]
    print_table("Rule sets", ("rules", "press", "kind", "hold", "minimum trigger"), rows)
    for parting in found.partings:
        pair = f"{parting.rules_a} and {parting.rules_b}"
        if parting.step is None:
            print(f"{parting.trigger}: {pair} show the same in every cell, for {parting.compared_steps} steps.")
        else:
            after = parting.step - parting.pressed_at_step
            print(
                f"{parting.trigger}: {pair} part {after} steps from the press at {parting.cell}, {parting.part}: "
                f"{parting.value_a} and {parting.value_b}."
            )


def _expectations(known: Dossier) -> None:
    failed = [verdict for verdict in known.expectations if not verdict.passed]
    if known.expectations:
        print(f"Expectations: {len(known.expectations) - len(failed)} passed, {len(failed)} failed.")
    for verdict in failed:
        said = f"{verdict.key} {verdict.measured}, expected {verdict.expected}"
        print(f"  FAILED  {verdict.trigger} -> {verdict.output}: {said}")
