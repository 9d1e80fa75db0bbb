"""The charts and machines of a plan or a brief, read: every text parsed, every error at its place in the file."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeVar

from tickwright.charts.notation import (
    RESERVED,
    Automaton,
    Claim,
    HandLine,
    Moment,
    Names,
    ReadChart,
    Span,
    Train,
    While,
    names_in,
)
from tickwright.charts.parsing import NotationError, parse_claim, parse_hand_line, parse_transition
from tickwright.charts.rings import ring_in
from tickwright.errors import PlanError, UsageError, near
from tickwright.places import Places, string_characters
from tickwright.plan.hand import parse_script
from tickwright.plan.model import Chart, Machine, Plan
from tickwright.toml import plain_newlines, shown

_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_.-]*")
_T = TypeVar("_T")


class Charts(NamedTuple):
    """All that a file says in charts: the names they may use, its machines, its charts."""

    names: Names
    machines: tuple[Automaton, ...]
    charts: tuple[ReadChart, ...]

    def chart(self, name: str | None) -> ReadChart:
        """The chart of that name; a UsageError names those there are."""
        for chart in self.charts:
            if chart.name == name:
                return chart
        if not self.charts:
            raise UsageError("The plan has no [[chart]]: tickwright chart PLAN --add NAME writes one.")
        known = near(name or "", [chart.name for chart in self.charts])
        raise UsageError(f"The plan has no chart {shown(name or '')}.{known}")


def charts_of(plan: Plan) -> Charts:
    """Read all charts and machines of a plan.

    Raises PlanError for a text that cannot be read or means nothing, with the file's line and column where the plan
    came from one; for an act of the hand that no part takes; and for a chart that needs a hand and has none.
    """
    places = places_of(plan)
    reader = ChartReader(tuple(plan.triggers), tuple(plan.outputs), plan.machines, places)
    charts = tuple(reader.chart(chart, number) for number, chart in enumerate(plan.charts))
    for number, chart in enumerate(charts):
        _check_acts(plan, chart, number, reader)
    made = tuple(_with_hand(chart, number, reader) for number, chart in enumerate(charts))
    return Charts(reader.names, reader.machines, made)


def places_of(plan: Plan) -> Places | None:
    """The places of the text that a plan came from; None if it came from none."""
    return Places(plain_newlines(plan.source)) if plan.source is not None else None


def _check_acts(plan: Plan, chart: ReadChart, number: int, reader: ChartReader) -> None:
    """Refuse an act of the hand that `--do` would refuse."""
    lines = chart.hand or ()
    try:
        parse_script(plan, [f"0:{line.words}" for line in lines])
    except UsageError as error:
        said = str(error)
        index = next((index for index, line in enumerate(lines) if f'"0:{line.words}"' in said), 0)
        said = said.replace('"0:', '"')
        raise reader.error(f'In the hand of chart "{chart.name}": {said}', "chart", number, "hand", index) from None


def _with_hand(chart: ReadChart, number: int, reader: ChartReader) -> ReadChart:
    """The chart with what the hand does where the file does not say: the one trigger, worked once at time 0."""
    if chart.hand is not None:
        return chart
    named: dict[str, str] = {name: kind for claim in chart.claims for name, kind in names_in(claim).items()}
    triggers = [name for name, kind in named.items() if kind == "trigger"]
    machines = [name for name, kind in named.items() if kind == "machine"]
    if not reader.names.triggers:
        return _hand(chart, ())
    what = ""
    if machines:
        what = f"its claims name the machine {machines[0]}"
    elif len(triggers) > 1:
        what = f"its claims name several triggers, {', '.join(triggers)}"
    elif not triggers and len(reader.names.triggers) > 1:
        what = f"the plan has several triggers, {', '.join(reader.names.triggers)}"
    if what:
        such = f'hand = ["0: {(triggers or list(reader.names.triggers))[0]}"]'
        message = f'The chart "{chart.name}" does not say what the hand does, and {what}: write, say, {such}.'
        raise reader.error(message, "chart", number)
    who = triggers[0] if triggers else reader.names.triggers[0]
    return _hand(chart, (HandLine(Moment(0), who, None, f"0: {who}"),))


def _hand(chart: ReadChart, hand: tuple[HandLine, ...]) -> ReadChart:
    return ReadChart(chart.name, chart.claims, hand, chart.watch_steps, chart.at_rest)


class ChartReader:
    """Reads charts against the names of one file; `places`, of the file's text, put errors at their line and column.

    The names are checked when it is made: each begins with a letter, is no word of the notation, and names one thing.
    """

    def __init__(
        self,
        triggers: tuple[str, ...],
        outputs: tuple[str, ...],
        machines: Sequence[Machine],
        places: Places | None = None,
        tables: tuple[str, str] = ("triggers", "outputs"),
    ) -> None:
        self.places = places
        self.names = Names.of(triggers, outputs, machines)
        self._check_names(tables, machines)
        self.machines = tuple(self._machine(machine, number) for number, machine in enumerate(machines))

    def chart(self, chart: Chart, number: int) -> ReadChart:
        """Read one chart, the file's `number`-th from 0."""
        where = f'chart "{chart.name}"'
        claims = tuple(
            self._read(
                lambda text: parse_claim(text, self.names), text, f"claim of {where}", "chart", number, "shows", index
            )
            for index, text in enumerate(chart.shows)
        )
        hand = None
        if chart.hand is not None:
            hand = tuple(
                self._read(
                    lambda text: parse_hand_line(text, self.names), text, f"line of the hand of {where}",
                    "chart", number, "hand", index,
                )
                for index, text in enumerate(chart.hand)
            )  # fmt: skip
        self._check_together(claims, number, where)
        return ReadChart(chart.name, claims, hand, chart.watch_steps, chart.at_rest)

    def error(self, message: str, *path: str | int) -> PlanError:
        """A PlanError at the place of that path."""
        return self.places.error(message, *path) if self.places is not None else PlanError(message)

    def claim_error(self, message: str, chart: int, claim: int, at: int = 0) -> PlanError:
        """A PlanError at a place in a claim of the file's `chart`-th chart."""
        return self._error_in(message, at, "chart", chart, "shows", claim)

    def _machine(self, machine: Machine, number: int) -> Automaton:
        transitions = tuple(
            self._read(
                lambda text: parse_transition(text, self.names, machine.states), text,
                f'transition of machine "{machine.name}"', "machine", number, "transitions", index,
            )
            for index, text in enumerate(machine.transitions)
        )  # fmt: skip
        return Automaton(machine.name, machine.states, transitions, machine.deaf_steps)

    def _read(self, parse: Callable[[str], _T], text: str, what: str, *path: str | int) -> _T:
        try:
            return parse(text)
        except NotationError as error:
            message = f"In the {what}, {shown(text, 120)}, at character {error.at + 1}: {error.sentence}"
            raise self._error_in(message, error.at, *path) from None

    def _error_in(self, message: str, at: int, *path: str | int) -> PlanError:
        """A PlanError at a character of the text at `path`."""
        if self.places is None:
            return PlanError(message)
        spot = self.places.scan.spots.get(path)
        if spot is not None:
            offsets = [offset for _, offset in string_characters(self.places.text, spot.value)]
            if at < len(offsets):
                return PlanError(message, *self.places.line_column(offsets[at]))
            if offsets and at == len(offsets):
                return PlanError(message, *self.places.line_column(offsets[-1] + 1))
        return self.places.error(message, *path)

    def _check_names(self, tables: tuple[str, str], machines: Sequence[Machine]) -> None:
        given: dict[str, str] = {}
        everything = [
            *((name, "trigger", (tables[0], name)) for name in self.names.triggers),
            *((name, "output", (tables[1], name)) for name in self.names.outputs),
            *((one.name, "machine", ("machine", number, "name")) for number, one in enumerate(machines)),
        ]
        for name, kind, path in everything:
            self._check_name(name, kind, *path)
            if name in given:
                what = f"{shown(name)} is the name of {_a(given[name])} and of {_a(kind)}: charts need different names."
                raise self.error(what, *path)
            given[name] = kind
        for number, machine in enumerate(machines):
            for index, state in enumerate(machine.states):
                self._check_name(state, "state", "machine", number, "states", index)

    def _check_name(self, name: str, kind: str, *path: str | int) -> None:
        if not _NAME.fullmatch(name):
            what = f"The {kind} {shown(name)} has a name that charts cannot use: it must begin with a letter, and go on"
            raise self.error(f"{what} with letters, digits, - and _.", *path)
        if name in RESERVED:
            what = f"The {kind} is called {shown(name)}, a word of the notation of charts: rename it."
            raise self.error(what, *path)

    def _check_together(self, claims: tuple[Claim, ...], number: int, where: str) -> None:
        """Refuse claims of one chart that do not go together."""
        for index, claim in enumerate(claims):
            if not isinstance(claim.clauses[0], While):
                continue
            for other, beside in enumerate(claims):
                if other != index and beside.name == claim.name and isinstance(beside.clauses[0], Span | Train | While):
                    what = f'"on while" stands alone, but {where} claims spans of {claim.name} elsewhere, too'
                    raise self.claim_error(f"{what}: {shown(beside.text, 120)}.", number, index, claim.offsets[0])
        ring = ring_in(claims, self.machines)
        if ring is not None:
            claim = claims[ring.claim]
            what = f"In the claim of {where}, {shown(claim.text, 120)}: the edge defines itself: {ring}"
            message = f"{what}. Let one of them come from a trigger, or some time after."
            raise self.claim_error(message, number, ring.claim, claim.offsets[ring.clause])


def _a(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"
