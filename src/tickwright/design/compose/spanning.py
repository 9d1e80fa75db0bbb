"""From spans after triggers to a network: memories set and reset by taps of a chain, early outputs, busy flags."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tickwright.design.compose.brief import End
from tickwright.design.compose.extending import (
    CUT,
    LATE,
    LEAST_END,
    RING_FROM,
    extending_tap,
    first_extended,
    holder,
    taps_for,
)
from tickwright.design.compose.machine_tiles import keeper, striker
from tickwright.design.compose.moments import (
    BUTTON_STEPS,
    RELEASED,
    Asked,
    At,
    Away,
    released_name,
    steps_text,
)
from tickwright.design.compose.network import Busy, Early, Need, Network, Program, Tap
from tickwright.design.compose.refusing import Refusal, refuse
from tickwright.design.compose.restarting import Restarts
from tickwright.design.compose.tapping import LONG, column_length, tap_needs
from tickwright.design.compose.tiles import (
    EQUAL_SETS,
    FALLEN,
    START,
    Made,
    centered,
    front,
    joint,
    memory,
    pad,
    start_step,
)
from tickwright.design.compose.wholes import Whole, early_spare, ends_of, length_of, shift_of
from tickwright.design.compose.wording import told, with_beginning, with_ending, with_length

if TYPE_CHECKING:
    from tickwright.design.compose.lowering import Lowered
    from tickwright.design.compose.machining import Machining

SOONEST = 6  # steps after an act
SOONEST_MEMORY = 14
LONGEST_TAIL = 10  # steps by which an end may come later after its event than the beginning after its own
AFTER_SOURCE = 4  # of a memory, steps after the pulse of a machine's move
SOONEST_RELEASED = 8  # of a memory, steps after a lever or plate is let go
AT_REST = 10  # steps after a press by which what it restarts has shown rest
LEAST_SPAN, LEAST_GAP = 4, 10  # of a memory
LEAST_EARLY = 12  # steps of a span that the front itself begins
EARLY_WAY = 8  # steps that an early output's way to where it is shown may take
EARLY_GAP = 6  # of an output that the front drives
WIDER = 4  # steps more of a set's column that make its pulse longer than 4
SET_AGAIN = 6  # a span so long takes a memory whose sets are all alike
MOST_INPUTS = 5  # of a memory, so that its level reaches
NOTICED = 16  # steps after which a press can act on what a chain carries


def span_network(low: Lowered, network: Network, machining: Machining) -> None:
    """Add the outputs of a brief that show spans to a network in which its machines are already; raises Refusal."""
    _Spanning(low, network, machining)


class _Spanning:
    def __init__(self, low: Lowered, network: Network, machining: Machining) -> None:
        fronts = {name: end for name, end in low.brief.inputs.items() if name not in low.struck}
        brief = replace(low.brief, inputs=fronts)
        self.brief, self.wanted, self.network = brief, low.wanted, network
        self.sources, self.keys = machining.sources, low.keys
        self.needs: dict[str, list[Need]] = {**{name: [] for name in brief.inputs}, **machining.needs}
        self.faded: dict[str, list[Need]] = {name: [] for name in brief.inputs}  # resets by rings that presses fill
        self.early: dict[str, tuple[str, Whole]] = {}  # trigger -> output, span
        self.early_leads: dict[str, Early] = {}
        outputs = {name: end for name, end in brief.outputs.items() if name in self.wanted.spans}
        self.whole = {name: self._whole(end, self.wanted.spans[name]) for name, end in outputs.items()}
        ends = [at for spans in self.whole.values() for one in spans for at in (one.begin, one.end) if at is not None]
        self.released = [one for one in brief.inputs if any(at.trigger == released_name(one) for at in ends)]
        self.needs.update({released_name(one): [] for one in self.released})
        self.restarts = {name: one for name in brief.inputs if (one := self._restarting(name))}
        self.extending = {name: again for name in brief.inputs if (again := self._extending(name))}
        self.ready = {name: self._ready(name) for name in brief.inputs}
        self.network.restarting = set(self.restarts)
        self.network.ready = {**self.ready, **low.ready}
        self.network.extending = dict(self.extending)
        self._choose_early()
        for name in brief.inputs:
            if name in self.restarts:
                self._striker(name)
            else:
                self._front(name)
        for name in outputs:
            self._output(name)
        for name in brief.inputs:
            if name in self.restarts:
                self.restarts[name].program()
            else:
                self._program(name)
        for name in self.released:
            self._released_program(name)

    # --- checks -----------------------------------------------------------------------------------------------------

    def _whole(self, output: End, spans: tuple[Away, ...]) -> list[Whole]:
        """The spans as the memories make them: whole ticks, not too soon, not too short."""
        shift = shift_of(output.part, output.name in self.wanted.rests_on)
        found: list[Whole] = []
        for span in spans:
            begin = self._even(span, span.begin, "begins")
            early = begin.trigger in self.brief.inputs
            soonest = (SOONEST if early else self._soonest(begin.trigger)) + shift.begin
            if begin.steps < soonest:
                raise self._too_soon(span, begin, soonest)
            end = span.end and self._even(span, span.end, "ends")
            mine = At(begin.trigger, begin.steps - shift.begin)
            its_end = end and At(end.trigger, end.steps - shift.end)
            if its_end and its_end.trigger == mine.trigger and its_end.steps - mine.steps < LEAST_SPAN:
                least = LEAST_SPAN + shift.end - shift.begin
                length = end.steps - begin.steps if end else 0
                raise refuse(
                    span.claim, f"{steps_text(length)} is too short: the least is {steps_text(least)}",
                    with_length(span, least), least - length,
                )  # fmt: skip
            if its_end and its_end.trigger != mine.trigger and its_end.steps < self._soonest(its_end.trigger):
                least = self._soonest(its_end.trigger) + shift.end
                why = f"it can end {steps_text(least)} after {its_end.trigger} at the soonest"
                raise refuse(span.claim, why, *with_ending(span.claim.text, end or its_end, least))
            if end and its_end and its_end.trigger != mine.trigger:
                self._check_tail(span, begin, end)
            found.append(Whole(mine, its_end, span))
        return found

    def _soonest(self, event: str) -> int:
        """The soonest that a memory changes after an event."""
        if event in self.sources:
            return self.sources[event].step + AFTER_SOURCE
        return SOONEST_RELEASED if event.endswith(RELEASED) else SOONEST_MEMORY

    def _check_tail(self, span: Away, begin: At, end: At) -> None:
        """Refuse an end so long after its event that a beginning in between would have to put it off."""
        most = begin.steps + LONGEST_TAIL
        if end.steps <= most:
            return
        acts, ends = told(begin.trigger), told(end.trigger)
        why = (
            f"{acts} may come between {ends} and the end, and would put that off: "
            f"it can end {steps_text(most)} after {ends} at the latest; a machine can wait longer"
        )
        raise refuse(span.claim, why, *with_ending(span.claim.text, end, most))

    def _even(self, span: Away, at: At, what: str) -> At:
        if at.steps % 2 == 0:
            return at
        if span.claim.give_or_take_steps:
            return At(at.trigger, at.steps - 1)
        low, high = steps_text(at.steps - 1), steps_text(at.steps + 1)
        length = span.end.steps - span.begin.steps if span.end and span.end.trigger == span.begin.trigger else 0
        if what == "ends" and length % 2:
            use = f"use {steps_text(length - 1)} or {steps_text(length + 1)}, or give or take 1 step"
            why = f"{length} steps are no whole number of ticks: {use}"
            raise refuse(span.claim, why, with_length(span, length - 1), 1)
        use = f"use {low} or {high}, or give or take 1 step"
        why = f"it {what} {steps_text(at.steps)} after {at.trigger}, which is no whole number of ticks: {use}"
        raise refuse(span.claim, why, f"{span.claim.text}, give or take 1 step", 1)

    def _too_soon(self, span: Away, begin: At, soonest: int) -> Refusal:
        why = f"it would begin {steps_text(begin.steps)} after {begin.trigger}: the soonest is {steps_text(soonest)}"
        instead = with_beginning(span.claim.text, self.keys.words(begin.trigger), soonest)
        return refuse(span.claim, why, instead, soonest - begin.steps)

    def _acting(self, trigger: str, word: str) -> tuple[Asked, int] | None:
        """The policy by which a further press "extends" or "restarts" what runs, and how soon one can come."""
        asked = self.wanted.policies[trigger]
        one = next((policy for policy in asked if policy.word == word), None)
        if one is None:
            return None
        length = BUTTON_STEPS.get(self.brief.inputs[trigger].part)
        if length is None:
            does = word.removesuffix("s")
            raise refuse(one.claim, f"{trigger} is no button: only a further press of a button is composed to {does}")
        if len(asked) > 1:
            raise refuse(one.claim, f"another claim of {trigger} beside it is not composed")
        return one, length + 2

    def _extending(self, trigger: str) -> int | None:
        """How soon after an act the next can come, if that is to extend what runs; else None."""
        if (asked := self._acting(trigger, "extends")) is None:
            return None
        one, again = asked
        ends: list[int] = []
        for output, spans in self.whole.items():
            mine = [span for span in spans if trigger in (span.begin.trigger, span.end and span.end.trigger)]
            own = [span.end.steps for span in mine if span.end is not None and span.end.trigger == trigger]
            shown = [span.away.end.steps for span in mine if span.away.end is not None]
            if not mine or (len(own) == len(mine) and max(shown) <= again):
                continue
            self._check_extended(output, mine, one)
            ends += shown
        latest = first_extended(ends, again)
        if latest is None or latest - NOTICED <= again:
            raise refuse(one.claim, f"nothing runs that a press {steps_text(again)} after another could extend")
        if one.steps > latest - NOTICED:
            event = one.claim.text.partition(" until ")[2]
            at_most = steps_text(latest - NOTICED)
            why = f"a press is noticed {steps_text(NOTICED)} late: it can extend until {at_most} after {trigger}"
            output = next(
                name for name, spans in self.whole.items() for span in spans
                if span.away.end is not None and span.away.end == (trigger, latest)
            )  # fmt: skip
            ended = "on" if output in self.wanted.rests_on else "off"
            instead = one.claim.text.replace(event, f"{output} {ended} - {steps_text(NOTICED)}", 1)
            raise refuse(one.claim, why, instead, one.steps - latest + NOTICED)
        return again

    def _check_extended(self, output: str, mine: list[Whole], asked: Asked) -> None:
        """Refuse what a further press cannot extend."""
        if len(self.whole[output]) > 1:
            why = f"{output} has several spans, which a press cannot drop in time: it could be ignored"
            raise refuse(asked.claim, why, asked.claim.text.replace("extends until", "ignored until", 1), 0)
        (one,) = mine
        trigger = asked.claim.name
        if one.end is None or one.end.trigger != one.begin.trigger:
            raise refuse(asked.claim, f"{output} does not end by {trigger} alone: there is nothing to extend")
        shift = shift_of(self.brief.outputs[output].part, output in self.wanted.rests_on)
        soonest = SOONEST_MEMORY + (2 if self._far(output) else 0)
        if one.begin.steps < soonest:
            raise self._too_soon(one.away, one.away.begin, soonest + shift.begin)
        if one.end.steps < LEAST_END:
            least = LEAST_END + shift.end
            why = f"a span that a press extends ends {steps_text(least)} after it at the soonest"
            raise refuse(one.away.claim, why)

    def _ready(self, trigger: str) -> int | None:
        """From how many steps after an act on a further one counts; None if every one may."""
        asked = self.wanted.policies[trigger]
        if trigger in self.extending or trigger in self.restarts:
            return None
        ignored = max((one.steps for one in asked if one.word == "ignored"), default=0)
        ready = [one for one in asked if one.word == "ready"]
        least = ignored
        why: str | None = None
        for output, spans in self.whole.items():
            mine = [one for one in spans if one.begin.trigger == trigger]
            if not mine:
                continue
            first = min(one.begin.steps for one in mine)
            gap = EARLY_GAP if first < SOONEST_MEMORY else LEAST_GAP + 2
            ends = [one.end.steps for one in mine if one.end is not None and one.end.trigger == trigger]
            over = max(ends) - first + gap if ends else 0
            if over > least:
                least, why = over, output
        least += least % 2
        soonest = BUTTON_STEPS.get(self.brief.inputs[trigger].part, 4)
        if ready:
            self._check_ready(ready[0], ignored, least, why)
            least = ready[0].steps - ready[0].steps % 2
        return least if least > soonest else None

    def _restarting(self, trigger: str) -> Restarts | None:
        """What presses of a trigger restart, if that is asked."""
        if (asked := self._acting(trigger, "restarts")) is None:
            return None
        one, again = asked
        if one.steps <= again:
            raise refuse(one.claim, f"{trigger} can be worked again {steps_text(again)} after an act at the soonest")
        for output, spans in self.whole.items():
            if any(trigger in (span.begin.trigger, span.end and span.end.trigger) for span in spans):
                self._check_restarted(output, spans, one)
        return Restarts(self.network, trigger)

    def _check_restarted(self, output: str, spans: list[Whole], asked: Asked) -> None:
        """Refuse what a further press cannot restart."""
        trigger = asked.claim.name
        instead = asked.claim.text.replace("restarts until", "ignored until", 1)
        shift = shift_of(self.brief.outputs[output].part, output in self.wanted.rests_on)
        far = self.brief.outputs[output].at is not None or len(spans) > 1
        for one in spans:
            if one.begin.trigger != trigger or (one.end is not None and one.end.trigger != trigger):
                raise refuse(asked.claim, f"{output} does not follow from {trigger} alone: it cannot restart it")
            soonest = SOONEST_MEMORY + (2 if far else 0)
            if one.begin.steps < soonest:
                raise self._too_soon(one.away, one.away.begin, soonest + shift.begin)
        if len(spans) > 1 and shift.end > 2:
            why = f"{output}, with several spans, does not come to rest within 0.5 s of a press: use a line"
            raise refuse(asked.claim, why, instead, 0)
        if len(spans) > MOST_INPUTS:
            raise refuse(asked.claim, f"{output} has {len(spans)} spans: a press can restart {MOST_INPUTS}", instead, 0)

    def _striker(self, trigger: str) -> None:
        end, name = self.brief.inputs[trigger], f"{trigger}-striker"
        add_end(self.network, name, striker(name, end.part, True, False, False), end, "trigger")
        self.network.triggers[trigger] = (name, "trigger")

    def _check_ready(self, ready: Asked, ignored: int, least: int, why: str | None) -> None:
        if ready.steps < least:
            reason = f"{why} is not over by then" if why else f"it is ignored until {steps_text(ignored)}"
            raise refuse(ready.claim, f"{reason}: {steps_text(least)} after the act is the soonest")

    # --- what is early ----------------------------------------------------------------------------------------------

    def _choose_early(self) -> None:
        """Of each trigger one output may begin before its memory could: the front itself drives it."""
        for name, spans in self.whole.items():
            for one in spans:
                if one.begin.trigger not in self.brief.inputs or one.begin.trigger in self.restarts:
                    continue
                if one.begin.steps >= SOONEST_MEMORY + (2 if self._far(name) else 0):
                    continue
                taken = self.early.get(one.begin.trigger)
                if taken is not None:
                    least = SOONEST_MEMORY + shift_of(self.brief.outputs[name].part, name in self.wanted.rests_on).begin
                    first = f"{taken[0]} begins so soon already, and only one output of a trigger can"
                    why = f"{first}: {name} can begin {steps_text(least)} after {one.begin.trigger}"
                    raise refuse(one.away.claim, why)
                least = LEAST_EARLY if self._alone(name) else LEAST_EARLY + EARLY_WAY
                if (length := length_of(one) or least) < least:
                    raise self._too_short(one, length, least)
                self.early[one.begin.trigger] = (name, one)
        for trigger, (output, early) in self.early.items():
            self._check_others(trigger, output, start_step(early.begin.steps) + SOONEST_MEMORY - START)

    def _too_short(self, one: Whole, length: int, least: int) -> Refusal:
        """An early output whose reset would have to come before the start pulse."""
        away = one.away
        shown = away.end.steps - away.begin.steps if away.end else 0
        lasts = shown + least - length
        why = f"what begins so soon lasts {steps_text(lasts)} at least"
        if with_length(away, lasts) is None:
            soonest = SOONEST_MEMORY + 2 + away.begin.steps - one.begin.steps
            return Refusal(away.claim.text, why, self._too_soon(away, away.begin, soonest).relax)
        return refuse(away.claim, why, with_length(away, lasts), lasts - shown)

    def _check_others(self, trigger: str, early: str, soonest: int) -> None:
        """Refuse an output that would begin before the chain behind the early one's gate could make it."""
        for name, spans in self.whole.items():
            least = soonest + (2 if self._far(name) else 0)
            for one in spans:
                if name != early and one.begin.trigger == trigger and one.begin.steps < least:
                    shown = least + shift_of(self.brief.outputs[name].part, name in self.wanted.rests_on).begin
                    why = f"{early} begins so soon that {name} can begin {steps_text(shown)} after {trigger} only"
                    raise refuse(one.away.claim, why)

    def _far(self, output: str) -> bool:
        return self.brief.outputs[output].at is not None or len(self._memories(self.whole[output])) > 1

    # --- the parts of the network -----------------------------------------------------------------------------------

    def _front(self, trigger: str) -> None:
        end = self.brief.inputs[trigger]
        early = self.early.get(trigger)
        blockers = 0 if self.ready[trigger] is None else 1
        name = f"{trigger}-front"
        drives, rests_on = "port", False
        if early is not None and self._alone(early[0]):
            drives, rests_on = drives_of(self.brief.outputs[early[0]]), early[0] in self.wanted.rests_on
            self.network.outputs[early[0]] = (name, "out")
            self.early_leads[trigger] = Early(early[1].begin.steps, ())
            if early[1].end is not None:
                self.needs[early[1].end.trigger].append(Need(name, "early-off", early[1].end.steps - 4))
        spare = early_spare(early[1]) if early else 0
        length = 3 if spare >= 22 else 2 if spare >= 10 else 1
        made = front(name, end.part, early is not None, blockers, length, drives, rests_on, trigger in self.released)
        add_end(self.network, name, made, end, "trigger")
        self.network.triggers[trigger] = (name, "trigger")

    def _alone(self, output: str) -> bool:
        """Whether the tile that makes an output can show it, too."""
        return len(self._memories(self.whole[output])) == 1 and self.brief.outputs[output].at is None

    def _memories(self, spans: list[Whole]) -> list[list[Whole]]:
        """The spans shared out: one memory takes spans of one pair of triggers, far enough from each other."""
        groups: list[list[Whole]] = []
        for one in spans:
            for group in [] if one.begin.trigger in self.restarts else groups:
                last = group[-1]
                most = EQUAL_SETS if SET_AGAIN in map(length_of, (*group, one)) else MOST_INPUTS
                if ends_of(last) != ends_of(one) or last.end is None or len(group) >= most:
                    continue
                if last.end.trigger == one.begin.trigger and one.begin.steps - last.end.steps < LEAST_GAP:
                    continue
                if self.early.get(one.begin.trigger, (None, None))[1] in (one, group[0]):
                    continue
                group.append(one)
                break
            else:
                groups.append([one])
        return groups

    def _output(self, output: str) -> None:
        end = self.brief.outputs[output]
        spans = self.whole[output]
        rests_on = output in self.wanted.rests_on
        groups = self._memories(spans)
        drives, network = drives_of(end), self.network
        if self._alone(output):
            if not self._is_early(output, groups[0]):
                self._memory(f"{output}-memory", groups[0], drives, rests_on, ())
                network.outputs[output] = (f"{output}-memory", "out")
            return
        shown = f"{output}-shown"
        add_end(network, shown, pad(shown, drives, rests_on), end, "out")
        network.outputs[output] = (shown, "out")
        if not groups:
            return
        way: tuple[tuple[str, str, str], ...] = ()
        add, target, ports = 0, shown, ["in"]
        if len(groups) > 1:
            target = network.add(f"{output}-joint", joint(f"{output}-joint", [1] * len(groups)))
            ports = [f"in{number}" for number in range(len(groups))]
            way, add = (network.connect(network.net(target, "out"), shown, "in"),), 2
        for number, (group, port) in enumerate(zip(groups, ports, strict=True)):
            if self._is_early(output, group):
                self._early_way(output, group[0], target, port, way, add)
                continue
            name = f"{output}-memory{number if len(groups) > 1 else ''}"
            lead = (network.connect(network.net(name, "out"), target, port), *way)
            self._memory(name, group, "port", False, lead, add)

    def _is_early(self, output: str, group: list[Whole]) -> bool:
        return any(self.early.get(one.begin.trigger) == (output, one) for one in group)

    def _early_way(
        self, output: str, one: Whole, target: str, port: str, way: tuple[tuple[str, str, str], ...], add: int
    ) -> None:
        network, trigger = self.network, one.begin.trigger
        source = f"{trigger}-front"
        budget = one.begin.steps - SOONEST - add
        if budget < 0:
            least = SOONEST + add
            raise refuse(
                one.away.claim, f"{output} has several spans: its first can begin {steps_text(least)} after {trigger}"
            )
        lead = (network.connect(network.net(source, "out"), target, port, budget), *way)
        self.early_leads[trigger] = Early(one.begin.steps - add, lead)
        if one.end is not None:
            self.needs[one.end.trigger].append(Need(source, "early-off", one.end.steps - add - 4, lead))

    def _memory(
        self, name: str, group: list[Whole], drives: str, rests_on: bool, lead: tuple[tuple[str, str, str], ...],
        add: int = 0,
    ) -> None:  # fmt: skip
        if (restarts := self.restarts.get(group[0].begin.trigger)) is not None:
            (one,) = group
            last = None if one.end is None else one.end.steps - add
            away = one.away.end.steps - one.end.steps if one.away.end and one.end else 0
            restarts.memory(name, one.begin.steps - add, last, AT_REST - away - add, drives, rests_on, lead)
            return
        ends = list(dict.fromkeys(one.end for one in group if one.end is not None))
        on_leave = [one.begin.steps - 2 - add for one in group]
        late = 2 if len(ends) <= 1 else 4
        off_leave = [at.steps - late - add for at in ends]
        guess = 4 * len(lead)
        if (again := self._again(group)) is not None:
            self._holder(name, group[0], drives, rests_on, lead, again)
            return
        sets = [
            max(column_length(leave - guess), 2 if length_of(one) == SET_AGAIN else 1)
            for one, leave in zip(group, on_leave, strict=True)
        ]
        resets = [column_length(leave - guess) for leave in off_leave]
        self.network.add(name, memory(name, sets, resets, drives, rests_on))
        for number, (one, leave) in enumerate(zip(group, on_leave, strict=True)):
            more = self._more(one, lead)
            self.needs[one.begin.trigger].append(Need(name, f"set{number}", leave, lead, more))
        for number, (at, leave) in enumerate(zip(ends, off_leave, strict=True)):
            self.needs[at.trigger].append(Need(name, f"reset{number}", leave, lead))

    def _more(self, one: Whole, lead: tuple[tuple[str, str, str], ...]) -> int:
        """What the column of a set must take beyond its least: a span of SET_AGAIN needs a longer pulse."""
        if length_of(one) != SET_AGAIN:
            return 0
        soonest = self._soonest(one.begin.trigger) + WIDER + 2 + 4 * len(lead)
        if one.begin.steps < soonest:
            lasts = steps_text(SET_AGAIN + one.away.end.steps - one.end.steps) if one.away.end and one.end else ""
            at = soonest + one.away.begin.steps - one.begin.steps
            relax = self._too_soon(one.away, one.away.begin, at).relax
            raise Refusal(
                one.away.claim.text, f"what lasts {lasts} can begin {steps_text(at)} after its trigger", relax
            )
        return WIDER

    def _again(self, group: list[Whole]) -> int | None:
        """How soon a further press can come that extends this span; None if none does."""
        again = self.extending.get(group[0].begin.trigger)
        end = group[0].end
        return again if again and end is not None and end.steps > again else None

    def _holder(
        self, name: str, one: Whole, drives: str, rests_on: bool, lead: tuple[tuple[str, str, str], ...], again: int
    ) -> None:
        network, trigger = self.network, one.begin.trigger
        assert one.end is not None
        taps = taps_for(one.end.steps, again)
        leave, length = one.begin.steps - 2, column_length(one.begin.steps - 2 - 4 * len(lead))
        network.add(name, holder(name, length, taps, drives, rests_on))
        noticed = network.net(f"{trigger}-front", "noticed")
        network.connect(noticed, name, "now", 0)
        network.connect(noticed, name, "again", LATE)
        self.needs[trigger].append(Need(name, "set0", leave, lead))
        reset = Need(name, "reset0", one.end.steps - CUT, lead)
        if one.end.steps < RING_FROM:
            self.needs[trigger].append(reset)
        else:
            self.faded[trigger].append(reset)

    # --- the chain of a trigger -------------------------------------------------------------------------------------

    def _program(self, trigger: str) -> None:
        network = self.network
        source = f"{trigger}-front"
        early = self.early_leads.get(trigger)
        program = Program(trigger, source, early=early)
        ready = self.ready[trigger]
        needs = self.needs[trigger]
        start = network.net(source, "start")
        program.needs[start] = []
        step = start_step(early.on if early else None)
        program.taps.append(Tap(start, step, None))
        if ready is not None:
            flag = f"{trigger}-busy"
            lead = network.connect(network.net(flag, "out"), source, "block0", 4)
            leave = ready - 2
            long = any(need.leave - step > LONG for need in needs)
            columns = [column_length(leave - 4)]
            network.add(flag, keeper(flag, [1], columns, "flag") if long else memory(flag, [1], columns))
            needs.append(Need(flag, "reset0", leave, (lead,)))
            network.connect(start, flag, "set0", 2)
            program.busy = Busy(flag, lead, ready)
        tap_needs(network, program, needs, step)
        for need in self.faded[trigger]:
            extending_tap(network, program, need.instance, need)
        network.programs.append(program)

    def _released_program(self, trigger: str) -> None:
        name = released_name(trigger)
        net = self.network.net(f"{trigger}-front", "fall")
        program = Program(name, f"{trigger}-front", [Tap(net, FALLEN, None)], {net: []})
        tap_needs(self.network, program, self.needs[name], FALLEN)
        self.network.programs.append(program)


def add_end(network: Network, name: str, made: Made, end: End, named: str) -> None:
    """Add an instance that lies where the brief says: with its named cell there, if a cell is said."""
    network.add(name, centered(made, named) if isinstance(end.at, tuple) else made)
    if isinstance(end.at, tuple):
        network.pins[name] = (end.at[0], end.at[1], end.at[2] - 1)
    elif end.at is not None:
        network.pins[name] = end.at


def drives_of(end: End) -> str:
    """What an output's tile drives."""
    return "door" if end.part == "piston-door" else end.part
