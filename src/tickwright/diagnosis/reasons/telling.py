"""Why an output does what it does, told from one traced press: the answer, its sum, rings, handovers, what is for ever.

No family of circuits has a template here: every sentence follows from the chains of causes of the output's first and
last edge. What both chains share cancels out; the rest is the sum of the hold, told only if it adds up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise, takewhile

from tickwright.diagnosis.reasons.folding import Fold, Link, fold, links_of
from tickwright.diagnosis.reasons.naming import Names, counted_kinds
from tickwright.diagnosis.reasons.pressed import Pressed
from tickwright.diagnosis.reasons.sentences import LONGEST, Figure, Named, Piece, Sentence, pieces
from tickwright.diagnosis.reasons.terms import Term, in_rounds, merged, summed, unseen
from tickwright.diagnosis.reasons.tracing import CellChange
from tickwright.kinds import BUTTONS, is_a, many_of
from tickwright.space import Cell

MOST_LEVELS = 8
MOST_TERMS = 7
MOST_PUSHES = 2


def tell_output(pressed: Pressed, output: str) -> Iterator[Sentence]:
    """Every sentence about one output, the answer first, then reasons, then what rounds it off."""
    told = _Output(pressed, output)
    yield told.answer()
    if not told.starts:
        return
    told.number_rings()
    yield from told.delay()
    yield from told.causes()
    if told.clock:
        yield from told.clock_round()
    elif told.ends:
        yield from told.rings()
        yield from told.items()
        yield from told.hold()
    else:
        yield from told.for_ever()
    yield from told.handovers()


class _Output:
    """One output of a traced press: its edges, their chains, and the sentences that they give."""

    def __init__(self, pressed: Pressed, output: str) -> None:
        self.pressed, self.output = pressed, output
        self.cell = pressed.plan.outputs[output]
        self.names: Names = pressed.names
        self.starts, self.stops = pressed.leaves_and_returns(self.cell)
        self.clock = pressed.is_clock(self.cell)
        self.ends = bool(self.stops) and len(self.stops) >= len(self.starts) and not self.clock
        self.rest_on = pressed.rest_on(self.cell)
        on = pressed.chain(self.starts[0]) if self.starts else []
        off = pressed.chain(self.stops[-1]) if self.ends else []
        self.on_links = links_of(on)
        self.traced = bool(on) and on[0].cell == pressed.trigger.cell
        self.off_traced = bool(off) and off[0].cell == pressed.trigger.cell
        same = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(on, off, strict=False)))
        self.after_common = links_of(on[max(same - 1, 0) :])
        self.folded = fold(links_of(off[max(same - 1, 0) :]))

    # --- the answer --------------------------------------------------------------------------------------------------

    def answer(self) -> Sentence:
        """What the press comes to, in one sentence."""
        press, name = self.pressed.press_words(), self.names.output(self.output)
        if not self.starts and self.pressed.flickers(self.cell):
            return self._say("answer", 3, press, " makes ", name, " flicker within a step.")
        if not self.starts:
            stays = "on" if self.rest_on else "off"
            return self._say("answer", 3, press, " changes nothing at ", name, f": it stays {stays}.")
        delay = self._since_press(self.starts[0])
        if delay is None:
            return self._say("answer", 3, press, " makes ", name, " flicker within a step.")
        after = ("" if delay.value == 0 else (", ", delay, " after it"),)
        verb = "turns " if not self.pressed.is_lamp(self.cell) else ("lights " if not self.rest_on else "darkens ")
        state = "" if self.pressed.is_lamp(self.cell) else (" off" if self.rest_on else " on")
        if self.clock:
            return self._say("answer", 3, press, " starts a clock at ", name, *after, ".")
        if not self.ends:
            return self._say("answer", 3, press, " ", verb, name, state, " for good", *after, ".")
        number = len(self.starts)
        hold = self._span(self.starts[0], self.stops[-1])
        if hold is None:
            return self._say("answer", 3, press, " makes ", name, " flicker within a step.")
        if number > 1:
            count = Figure(number, "count", ("changes", self.cell, 0, 2 * number - 1, 2), word=True)
            gives = pieces(" gives ", count, " pulses at ", name)
            if self.rest_on:
                gives = pieces(" ", verb, name, state, " ", count, " times")
            words = (press, *gives, " within ", hold, *after, ".")
            return self._say("answer", 3, *words, at=(self.starts[0], self.stops[-1]))
        says = (press, " ", verb, name, state, " for ", hold, *after, ".")
        return self._say("answer", 3, *says, at=(self.starts[0], self.stops[-1]))

    def delay(self) -> Iterator[Sentence]:
        """What the time before the first edge is made of."""
        total = self._since_press(self.starts[0])
        if total is None or total.value == 0 or not self.traced:
            return
        terms = self._terms([*fold(self.on_links)])
        yield from self._sum("delay", 1, total, terms, "Before it comes, ", " pass: ", self.starts[0])

    # --- rings and items ---------------------------------------------------------------------------------------------

    def number_rings(self) -> None:
        """Count the parts of rings along them, before others of their kinds get numbers."""
        for one in self.folded:
            if isinstance(one, Fold) and len(one.cells) > 1:
                self.names.count(one.cells)

    def rings(self) -> Iterator[Sentence]:
        """What goes round in a ring before the output ends, and what a turn costs."""
        if not self.off_traced:
            return
        for ring in self.folded:
            if isinstance(ring, Fold) and len(ring.cells) > 1 and not self._of_items(ring):
                yield from self._ring(ring)

    def _ring(self, ring: Fold) -> Iterator[Sentence]:
        size = len(ring.cells)
        kinds = counted_kinds([link.change.kind for link in ring.links[:size]])
        members = Figure(size, "count", ("cells", size), word=True)
        turn = self._span(ring.links[0].change, ring.links[size].change) if ring.turn_steps is not None else None
        who = Named(f" {kinds}" if " and " not in kinds else f" parts, {kinds},", ring.cells)
        if turn is not None:
            words = (members, who, " feed one another in a ring; one turn takes ", turn, ".")
            yield self._say("ring", 2, *words, at=(ring.links[0].change,))
        yield from self._loss(ring)
        levels = ring.levels()
        first = ring.cells[0]
        shown = [self._level(link.change) for link in ring.links[::size]]
        turns = self._changes(ring.links[0].change, ring.links[-size].change, ring.turns)
        if all(shown) and turns is not None and all(a > b for a, b in pairwise(levels)):
            some = shown if len(shown) <= MOST_LEVELS else [*shown[:3], None, shown[-1]]
            listed: list[Piece | str] = []
            for number, figure in enumerate(some):
                listed += [", " if number else "", figure if figure is not None else "and so on"]
            last = "" if levels[-1] == 0 else ", then nothing"
            left = (self.names.part(first), " is left with ", listed, f"{last}: ", turns, " turns.")
            yield self._say("levels", 2, *left, at=(ring.links[0].change,))

    def _loss(self, ring: Fold) -> Iterator[Sentence]:
        """How many levels a turn costs, and where they go."""
        size = len(ring.cells)
        one = ring.links[: size + 1]
        if len(one) <= size or any(link.change.what != "level" for link in one):
            return
        drops = [(here.change, there.change, here.change.after - there.change.after) for here, there in pairwise(one)]
        lost = [drop for drop in drops if drop[2] != 0]
        total = one[0].change.after - one[-1].change.after
        if total <= 0 or any(drop[2] < 0 for drop in lost) or len(lost) > 3:
            return
        whole = self._drop(one[0].change, one[-1].change)
        places: list[Piece | str] = []
        for number, (here, there, _) in enumerate(lost):
            figure = self._drop(here, there)
            if figure is None:
                return
            at = " at " if self.pressed.subtracts(there.cell) else " on the way to "
            between = "" if number == 0 else " and " if number == len(lost) - 1 else ", "
            places += [between, figure, at, self.names.part(there.cell)]
        if whole is not None and places:
            unit = " level" if whole.value == 1 else " levels"
            yield self._say("loss", 2, "a turn costs ", whole, unit, ": ", places, ".", at=(one[0].change,))

    def items(self) -> Iterator[Sentence]:
        """How long items take that go one by one."""
        told: set[str] = set()  # a long machine moves the same items again and again
        for one in self.folded if self.off_traced else ():
            if isinstance(one, Fold) and self._of_items(one) and one.turn_steps is not None:
                sentence = self._item_rounds(one)
                if sentence is not None and sentence.text not in told:
                    told.add(sentence.text)
                    yield sentence

    def _item_rounds(self, one: Fold) -> Sentence | None:
        first, last = one.links[0].change, one.links[-1].change
        each = self._span(first, one.links[len(one.cells)].change)
        moved = abs(last.after - first.before) if len(one.cells) == 1 else 0
        before = first.step - one.links[0].wait_steps - self.pressed.at
        if each is None or not moved:
            return None
        after = last.step - self.pressed.at
        if abs(self.pressed.value(first.cell, after) - self.pressed.value(first.cell, before)) != moved:
            return None
        count = Figure(moved, "count", ("moved", first.cell, before, after), word=True)
        who = self.names.part(first.cell)
        does = " takes in " if last.after > first.before else " gives away "
        unit = " item, " if moved == 1 else " items, "
        return self._say("items", 2, who, does, count, unit, "one every ", each, ".", at=(first, last))

    def _of_items(self, one: Fold) -> bool:
        return all(link.change.what == "count" for link in one.links)

    # --- the sum of the hold -----------------------------------------------------------------------------------------

    def hold(self) -> Iterator[Sentence]:
        """What the time from the first edge to the last is made of; what lies on both ways cancels out."""
        total = self._span(self.starts[0], self.stops[-1])
        if total is None or not (self.traced and self.off_traced):
            return
        common = Counter((link.change.cell, link.wait_steps) for link in self.after_common) & Counter(
            (link.change.cell, link.wait_steps) for link in self._plain_off()
        )
        kept_off = self._without(self.folded, common)
        kept_on = self._without(self.after_common, common)
        terms = self._terms(kept_off) + [term._replace(taken_off=True) for term in self._terms(kept_on)]
        yield from self._sum("sum", 3, total, terms, "", " = ", self.starts[0], self.stops[-1])

    def _plain_off(self) -> list[Link]:
        return [one for one in self.folded if isinstance(one, Link)]

    def _without(self, links: Sequence[Link | Fold], common: Counter[tuple[Cell, int]]) -> list[Link | Fold]:
        left = Counter(common)
        kept: list[Link | Fold] = []
        for one in links:
            key = (one.change.cell, one.wait_steps) if isinstance(one, Link) else None
            if key is not None and left[key]:
                left[key] -= 1
            else:
                kept.append(one)
        return kept

    def _terms(self, links: Sequence[Link | Fold]) -> list[Term]:
        """Terms of a sum; neighbours of one kind are one term. Links that take no time are none."""
        terms: list[Term] = []
        run: list[Link] = []

        def end_run() -> None:
            if run:
                terms.append(self._term(run))
                run.clear()

        for one in links:
            if isinstance(one, Fold):
                end_run()
                terms.append(self._fold_term(one))
            elif one.wait_steps:
                if run and (run[-1].change.kind != one.change.kind or one.change.kind in BUTTONS):
                    end_run()
                run.append(one)
        end_run()
        return terms

    def _term(self, run: Sequence[Link]) -> Term:
        figure = self._together(run)
        cells = tuple(dict.fromkeys(link.change.cell for link in run))
        kind = run[0].change.kind
        if kind in BUTTONS and cells == (self.pressed.trigger.cell,):
            words: tuple[Piece, ...] = (Named("the press", cells),)
        elif len(cells) == 1:
            words = (self.names.part(cells[0], kind),)
        else:
            count = Figure(len(cells), "count", ("cells", len(cells)), word=True)
            words = (count, Named(f" {many_of(kind)}", cells))
        return Term(figure, words)

    def _together(self, run: Sequence[Link]) -> Figure:
        """The waits of links that need not follow one another, as one figure."""
        waits = tuple(self._wait(link) for link in run)
        return waits[0] if len(waits) == 1 else Figure(sum(one.value for one in waits), "steps", ("sum", waits))

    def _fold_term(self, one: Fold) -> Term:
        figure = self._between(one.links)
        size = len(one.cells)
        turns = self._changes(one.links[0].change, one.links[-size].change, one.turns)
        count = turns or Figure(one.turns, "count", ("cells", one.turns), word=True)
        return Term(figure, (count, Named(" items" if self._of_items(one) else " turns", one.cells)), folded=True)

    def _between(self, links: Sequence[Link]) -> Figure:
        """How long several links took together."""
        first, last = links[0].change, links[-1].change
        cause = self.pressed.run.changes[first.cause] if first.cause is not None else None
        span = self._span(cause, last) if cause is not None else None
        if span is None and cause is not None and cause.step == self.pressed.at:
            span = self._since_press(last)
        waits = tuple(self._wait(link) for link in links)
        return span or Figure(sum(link.wait_steps for link in links), "steps", ("sum", waits))

    def _sum(
        self, kind: str, weight: int, total: Figure, terms: Sequence[Term], before: str, equals: str, *at: CellChange
    ) -> Iterator[Sentence]:
        """The sum as a sentence, if it adds up; one that is too long in rounds or halves, each told by itself."""
        worth = sum(-term.figure.value if term.taken_off else term.figure.value for term in terms)
        if worth != total.value or not terms or any(unseen(term.figure) for term in terms):
            return
        whole = self._added(kind, weight, total, terms, before, equals, *at)
        if whole is not None:
            yield whole
            return
        outer, inner = in_rounds(terms)
        short = self._added(kind, weight, total, outer if inner else merged(terms), before, equals, *at)
        if short is None:
            return
        yield short
        for name, some in inner:
            told = self._added("rounds", 2, summed(some), some, f"{name} takes ", ": ", *at)
            if told is not None:
                yield told

    def _added(
        self, kind: str, weight: int, total: Figure, terms: Sequence[Term], before: str, equals: str, *at: CellChange
    ) -> Sentence | None:
        """Terms as one sentence; None if it would be too long to be read at once."""
        if len(terms) > MOST_TERMS:
            return None
        if len(terms) == 1 and kind == "rounds":
            says: list[Piece | str] = [before, total, equals, *terms[0].words, "."]
        elif len(terms) == 1:
            took = "s" if len(terms[0].words) == 1 else ""
            what = {"delay": " before it", "sum": ""}.get(kind, " of each round")
            says = [*terms[0].words, f" take{took} all of the ", total, f"{what}."]
        else:
            says = [before, total, equals]
            for number, term in enumerate(sorted(terms, key=lambda term: term.taken_off)):
                sign = (" − " if term.taken_off else " + ") if number else ""
                says += [sign, term.figure, " (", *term.words, ")"]
            says.append(".")
        sentence = self._say(kind, weight, *says, at=at)
        return sentence if len(sentence.text) <= LONGEST else None

    def _if_short(self, sentence: Sentence) -> Iterator[Sentence]:
        if len(sentence.text) <= LONGEST:
            yield sentence

    # --- what else begins it -----------------------------------------------------------------------------------------

    def causes(self) -> Iterator[Sentence]:
        """What brings it about besides the way told: what unlocks a hopper, and pistons that push before it."""
        told: set[Cell] = set()
        for link in [*self.on_links, *(link for one in self.folded for link in _links(one))]:
            hopper = link.change
            cause = self.pressed.run.changes[hopper.cause] if hopper.cause is not None else None
            if not is_a(hopper.kind, "hopper") or hopper.what != "count" or cause is None or hopper.cell in told:
                continue
            while is_a(cause.kind, "wire") and cause.cause is not None:
                cause = self.pressed.run.changes[cause.cause]
            if cause.after == 0 and cause.what == "level" and cause.cell in self.pressed.sources(hopper.cell):
                told.add(hopper.cell)
                goes, gives = self.names.part(cause.cell), self.names.part(hopper.cell)
                yield self._say("cause", 2, goes, " goes off, and that unlocks ", gives, ".", at=(cause,))
        yield from self._pushes(self.starts[0])

    def _pushes(self, until: CellChange) -> Iterator[Sentence]:
        """Pistons that push before the first edge and are not on the way that was told: they make the way."""
        on_way = {link.change.cell for link in self.on_links}
        found: dict[Cell, CellChange] = {}
        for change in self.pressed.run.changes[self.pressed.run.first : until.number]:
            if is_a(change.kind, "piston") and change.after > change.before and change.cell not in on_way:
                found.setdefault(change.cell, change)
        for change in list(found.values())[:MOST_PUSHES]:
            since = self._since_press(change)
            if since is not None:
                yield self._say("cause", 2, self.names.part(change.cell), " pushes ", since, " after it.", at=(change,))

    # --- handovers, what is for ever, clocks -------------------------------------------------------------------------

    def handovers(self) -> Iterator[Sentence]:
        """Where one source of the output lets go while another carries on, and how much there is to spare."""
        for first, second in self.pressed.handovers(self.cell):
            slack = self._span(second.start, first.end)
            since, until = self._since_press(second.start), self._since_press(first.end)
            if slack is None or since is None or until is None or first.cell == second.cell:
                continue
            goes, carries = self.names.part(first.cell), self.names.part(second.cell)
            words = (
                goes,
                " lets go at ",
                until,
                "; ",
                carries,
                " has been on since ",
                since,
                ": ",
                slack,
                " to spare.",
            )
            yield from self._if_short(self._say("handover", 1, *words, at=(second.start, first.end)))

    def for_ever(self) -> Iterator[Sentence]:
        """What keeps an output that never ends: a ring that loses nothing, or a lock."""
        ring = self.pressed.supporting_ring(self.cell)
        if len(ring) > 1:
            count = Figure(len(ring), "count", ("cells", len(ring)), word=True)
            kinds = counted_kinds([self.pressed.kind(cell) for cell in ring])
            who = Named(f" {kinds}" if " and " not in kinds else f" parts, {kinds},", ring)
            ring_words = " keep one another on in a ring: it loses nothing in a turn."
            if self.rest_on:
                ring_words = " keep one another on in a ring, which keeps it off: the ring loses nothing in a turn."
            yield self._say("for ever", 2, count, who, ring_words)
            return
        locked = self.pressed.locked_support(self.cell)
        if locked is not None:
            yield self._say("for ever", 2, self.names.part(locked), " is locked: it keeps what it shows.")
            yield from self._lock(locked)

    def _lock(self, locked: Cell) -> Iterator[Sentence]:
        """What locks a part that stays, since when, and whether the part itself feeds it."""
        sim = self.pressed.run.sim
        for source in sorted(sim.geometry.fan_in(locked).lock):
            edges = [
                one for one in self.pressed.run.edges(source) if one.after > 0 and one.number >= self.pressed.run.first
            ]
            since = self._since_press(edges[-1]) if edges and sim.level.get(source, 0) else None
            if since is None:
                continue
            fed = any(change.cell == locked for change in self.pressed.chain(edges[-1]))
            itself = (", fed by ", self.names.part(locked), " itself") if fed else ()
            yield self._say(
                "cause", 2, self.names.part(source), " locks it from ", since, " on", *itself, ".", at=edges[-1:]
            )

    def clock_round(self) -> Iterator[Sentence]:
        """The round of a clock: what its period is made of, from the last common cause of two edges of one sort."""
        found = self.pressed.clock_round(self.cell)
        if found is None:
            return
        first, second, chain = found
        period = self._span(first, second)
        links = links_of(chain)
        if period is None or sum(link.wait_steps for link in links) != period.value:
            return
        yield self._say("clock", 3, "it comes again every ", period, ".", at=(first, second))
        yield from self._sum("clock", 2, period, self._terms(fold(links)), "", " = ", first, second)

    # --- figures -----------------------------------------------------------------------------------------------------

    def _say(self, kind: str, weight: int, *parts: object, at: Sequence[CellChange] = ()) -> Sentence:
        steps = tuple(sorted({change.step - self.pressed.at for change in at}))
        made = pieces(*parts)  # type: ignore[arg-type]
        return Sentence(kind, self.output, self.pressed.trigger.name, made, steps, weight)

    def _number(self, change: CellChange) -> int | None:
        return self.pressed.number(change)

    def _span(self, first: CellChange, second: CellChange) -> Figure | None:
        a, b = self._number(first), self._number(second)
        if a is None or b is None:
            return None
        return Figure(second.step - first.step, "steps", ("span", first.cell, a, second.cell, b))

    def _since_press(self, change: CellChange) -> Figure | None:
        number = self._number(change)
        return (
            None
            if number is None
            else Figure(change.step - self.pressed.at, "steps", ("since press", change.cell, number))
        )

    def _wait(self, link: Link) -> Figure:
        """How long one link took; marked, and then not said, if it cannot be seen at the ends of steps."""
        cause = self.pressed.run.changes[link.change.cause] if link.change.cause is not None else None
        span = self._span(cause, link.change) if cause is not None else None
        if span is None and cause is not None and cause.step == self.pressed.at:
            span = self._since_press(link.change)
        return span or Figure(link.wait_steps, "steps", ("?",))

    def _level(self, change: CellChange) -> Figure | None:
        if self._number(change) is None:
            return None
        return Figure(change.after, "level", ("level", change.cell, change.step - self.pressed.at))

    def _drop(self, first: CellChange, second: CellChange) -> Figure | None:
        if self._number(first) is None or self._number(second) is None:
            return None
        at = self.pressed.at
        of = ("drop", first.cell, first.step - at, second.cell, second.step - at)
        return Figure(first.after - second.after, "levels", of, word=True)

    def _changes(self, first: CellChange, last: CellChange, turns: int) -> Figure | None:
        a, b = self._number(first), self._number(last)
        if a is None or b is None or b - a + 1 != turns:
            return None
        return Figure(turns, "count", ("changes", first.cell, a, b, 1), word=True)


def _links(one: Link | Fold) -> tuple[Link, ...]:
    return one.links if isinstance(one, Fold) else (one,)


__all__ = ["tell_output"]
