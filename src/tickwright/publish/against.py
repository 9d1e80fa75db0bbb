"""What tells two sheets apart, "this and not that", in the words that `choose` and `compare` use."""

from __future__ import annotations

from typing import NamedTuple

from tickwright.design import tell_apart
from tickwright.dossier import Dossier
from tickwright.plan import Bill
from tickwright.publish.sentences import main_result
from tickwright.space import Cell

__all__ = ["against_text", "short_names"]


class _Figures(NamedTuple):
    """What is compared of a sheet: its main output's answer to a press, and its size."""

    hold_steps: int | None
    error_steps: int | None
    delay_steps: int | None
    minimum_trigger_steps: int | None
    recovery_steps: int | None
    parts: int
    price: float
    box: Cell


def against_text(names: tuple[str, str], dossiers: tuple[Dossier, Dossier], bills: tuple[Bill, Bill]) -> str | None:
    """What the smaller of two designs has over the other, and what it lacks; None if one was not measured.

    >>> from tickwright.dossier import gather
    >>> from tickwright import load
    >>> from tickwright.plan import examples_folder, priced_bill
    >>> plans = [load(examples_folder() / f"{name}.toml") for name in ("flat-loop-4", "stacked-loop-3")]
    >>> text = against_text(("A", "B"), tuple(map(gather, plans)), tuple(map(priced_bill, plans)))
    >>> text.partition(": ")[0], "fewer" in text
    ('B against A', True)
    """
    rows = [_figures(dossier, bill) for dossier, bill in zip(dossiers, bills, strict=True)]
    if rows[0] is None or rows[1] is None:
        return None
    (this, name), (that, other) = sorted(
        zip((rows[0], rows[1]), names, strict=True), key=lambda row: (row[0].parts, row[0].box)
    )
    text = f"{name} against {other}: {tell_apart(this, that).text}."
    return f"{text[0].upper()}{text[1:]}"


def short_names(names: tuple[str, str]) -> tuple[str, str]:
    """Two names without what both begin with, up to a comma.

    >>> short_names(("Gangway lamp, flat", "Gangway lamp, stacked")), short_names(("Bell", "Gate"))
    (('the flat', 'the stacked'), ('"Bell"', '"Gate"'))
    """
    heads, tails = zip(*(name.rsplit(", ", 1) if ", " in name else ("", name) for name in names), strict=True)
    if heads[0] and heads[0] == heads[1] and tails[0] != tails[1]:
        return f"the {tails[0]}", f"the {tails[1]}"
    return f'"{names[0]}"', f'"{names[1]}"'


def _figures(dossier: Dossier, bill: Bill) -> _Figures | None:
    main = main_result(dossier.plan, [answer.measured for answer in dossier.answers])
    if main is None or not dossier.plan.cells:
        return None
    answer = next(one for one in dossier.answers if one.measured is main)
    spans = [[cell[axis] for cell in dossier.plan.cells] for axis in range(3)]
    x, y, z = (max(span) - min(span) + 1 for span in spans)
    return _Figures(
        main.hold_steps, None, main.delay_steps, main.minimum_trigger_steps, answer.recovery_steps, bill.number,
        float(bill.total), (x, y, z),
    )  # fmt: skip
