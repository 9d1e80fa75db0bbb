"""Terms of sums, and what makes long sums short: equal terms as one, rounds told once, halves told one by one."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from tickwright.diagnosis.reasons.naming import ordinal
from tickwright.diagnosis.reasons.sentences import Figure, Named, Piece, Text
from tickwright.space import Cell

LONGEST_ROUND = 24  # terms


class Term(NamedTuple):
    """One term of a sum: its figure, what it stands for, whether it is taken off, and whether it is turns or items."""

    figure: Figure
    words: tuple[Piece, ...]
    taken_off: bool = False
    folded: bool = False

    @property
    def said(self) -> str:
        """What it stands for, as read."""
        return "".join(piece.text for piece in self.words)

    @property
    def cells(self) -> tuple[Cell, ...]:
        """The parts that it stands for."""
        return tuple(dict.fromkeys(cell for piece in self.words if isinstance(piece, Named) for cell in piece.cells))


def summed(terms: Sequence[Term]) -> Figure:
    """The figures of terms as one."""
    figures = tuple(term.figure for term in terms)
    return Figure(sum(one.value for one in figures), "steps", ("sum", figures))


def merged(terms: Sequence[Term]) -> list[Term]:
    """Terms of the same parts, or of as many items, as one: a long machine does the same again and again."""
    groups: dict[tuple[str, bool], list[Term]] = {}
    for term in terms:
        groups.setdefault((term.said, term.taken_off), []).append(term)
    made = []
    for group in groups.values():
        if len(group) == 1:
            made += group
            continue
        times = Figure(len(group), "count", ("cells", len(group)), word=True)
        made.append(Term(summed(group), (times, Text(" times "), *group[0].words), group[0].taken_off))
    return made


def unseen(figure: Figure) -> bool:
    """Whether a figure rests on a moment within a step, which nobody sees from outside."""
    if figure.of[0] == "sum":
        return any(unseen(one) for one in figure.of[1])
    return figure.of == ("?",)


def in_rounds(terms: Sequence[Term]) -> tuple[list[Term], list[tuple[str, list[Term]]]]:
    """A long sum as a short one of rounds, or of halves, and what one round or each half is made of.

    Nothing is named where the sum neither repeats nor has two terms of turns or items.
    """
    added, off = [term for term in terms if not term.taken_off], [term for term in terms if term.taken_off]
    at, size, turns = _repeated([term.said for term in added])
    if turns >= 2:
        end = at + size * turns
        whole = added[at:end]
        count = Figure(turns, "count", ("cells", turns), word=True)
        rounds = Term(summed(whole), (count, Named(" rounds", _all_cells(whole))))
        outer = [*compact(added[:at]), rounds, *compact(added[end:]), *off]
        return outer, [("the last round", compact(added[end - size : end]))]
    folds = [number for number, term in enumerate(added) if term.folded]
    if len(folds) < 2:
        return list(terms), []
    cuts = [0, *folds[1:], len(added)]
    pieces = [added[a:b] for a, b in pairwise(cuts)]
    what = "half" if len(pieces) == 2 else "part"
    names = [f"the {ordinal(number)} {what}" for number in range(1, len(pieces) + 1)]
    outer = [Term(summed(piece), (Named(name, _all_cells(piece)),)) for name, piece in zip(names, pieces, strict=True)]
    return [*outer, *off], [(name, compact(piece)) for name, piece in zip(names, pieces, strict=True)]


def compact(terms: Sequence[Term]) -> list[Term]:
    """Terms, those in a row that are neither turns nor items as one of so many parts."""
    made: list[Term] = []
    row: list[Term] = []

    def end_row() -> None:
        if len(row) > 1:
            cells = _all_cells(row)
            count = Figure(len(cells), "count", ("cells", len(cells)), word=True)
            made.append(Term(summed(row), (count, Named(" parts", cells))))
        else:
            made.extend(row)
        row.clear()

    for term in terms:
        if term.folded:
            end_row()
            made.append(term)
        else:
            row.append(term)
    end_row()
    return made


def _all_cells(terms: Sequence[Term]) -> tuple[Cell, ...]:
    return tuple(dict.fromkeys(cell for term in terms for cell in term.cells))


def _repeated(words: Sequence[str]) -> tuple[int, int, int]:
    """Where what repeats begins, how many terms a round has, and how many rounds there are: what covers most."""
    best = (0, 1, 1)
    for size in range(1, min(LONGEST_ROUND, len(words) // 2) + 1):
        for at in range(len(words) - 2 * size + 1):
            turns = 1
            while words[at + turns * size : at + (turns + 1) * size] == words[at : at + size]:
                turns += 1
            if turns > 1 and turns * size > best[1] * best[2]:
                best = (at, size, turns)
    return best
