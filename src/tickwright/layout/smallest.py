"""The smallest exact layout found in time: boxes from a fair size downwards, each given to SAT; then pruning.

Tries come in rounds: in each some boxes near the volume that is wanted, in the next round the same with twice the
conflicts of the solver. The order of tries hangs only on the answers before, and how many there are on the conflicts
that they take: so the same seed gives the same plan, however many processes work on it.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from time import monotonic

from tickwright.layout.computing import Exact, computes, pruned
from tickwright.layout.exact import Found, Place, Through
from tickwright.layout.labels import EXACT_COST, Labels, labels_of
from tickwright.layout.questions import Answer, Answers, Try
from tickwright.layout.torches import fewest_torches
from tickwright.netlist import Network, map_network
from tickwright.plan.model import Plan
from tickwright.rules import RuleSet
from tickwright.space import Cell

MOST_LABELS = 34
LEAST_SIDE, LONGEST_SIDE, LOWEST, TALLEST = 2, 9, 2, 4
FLIP_FLOP = 10  # cells of a flip-flop and what carries it
FAIR, TIGHTER, WIDER = 2.3, 0.85, 1.25
FAIR_WITH_LATCHES = 3.0
THROUGH_ROOM = 2.2  # times as much, where a signal runs through
PINNED_ROOM = 1.4  # times as much, where inputs or outputs must lie at places or sides
BUDGET_SECONDS = 150.0
CONFLICTS, CONFLICTS_WITH_LATCHES = 16_000, 8_000  # of a try of the first round
LEAST = 1_000  # that a try counts for
BUDGET_A_SECOND = 3_000.0  # conflicts of a process, those of larger boxes counted more
USUAL_WORKERS = 2  # whose conflicts are counted where nothing is said
LEAST_IN_VAIN, IN_VAIN = 50_000.0, 8  # conflicts after the best layout; times as many as were needed until it
TORCHES_SHARE = 0.25  # of the time, to find networks of few torches
PLAIN_VOLUME = 40  # of a box whose conflicts count once
BOXES, BOXES_BELOW, SEEDS_BELOW = 6, 3, 2  # of a round; below a layout fewer boxes, each with so many seeds
OTHERS = 2  # of them that other networks of torches than the best one's are tried in, too
LONG = 3  # times as long as wide, at most
GIVE_UP = 4  # rounds without any layout
AHEAD = 3  # tries that are known for each process, so that none waits
MOST_PROCESSES = 8  # where nothing is said

Told = Callable[[Cell, Cell | None], bool]


def lay_exactly(
    network: Network,
    rules: Sequence[RuleSet],
    room: Cell | None = None,
    places: Mapping[str, Place] | None = None,
    seconds: float = BUDGET_SECONDS,
    told: Told | None = None,
    seed: int = 0,
    workers: int | None = None,
) -> Exact | None:
    """The smallest layout found within so many seconds, pruned; None if the netlist is out of reach or none was found.

    `told` is given each box that is tried and the best so far, several times a second, and may end it by giving True.
    With `workers` so many processes work, and as many more tries are made.
    """
    search = search_of(network, rules, room, places or {}, seconds, told, seed, workers=workers)
    found = search.run() if search is not None else None
    if search is None or found is None:
        return None
    levers = {network.inputs[number]: cell for number, cell in found.levers.items()}
    flips = {network.latches[number].output: where for number, where in found.flip_flops.items()}
    exact = Exact(Plan(found.cells), levers, found.lamps, tuple(search.tried), flips)
    return pruned(exact, network, rules) if computes(exact, network, rules) else exact


def search_of(
    network: Network,
    rules: Sequence[RuleSet],
    room: Cell | None,
    places: Mapping[str, Place],
    seconds: float,
    told: Told | None,
    seed: int,
    through: tuple[int, str] | None = None,
    workers: int | None = None,
) -> Search | None:
    """The search for a layout within so many seconds, its labels found; None if the netlist is out of reach.

    `through` is the number of the input and the name of the output of a signal that runs through the box.
    """
    begun = monotonic()
    variants = labels_for(network, begun + TORCHES_SHARE * seconds)
    if not variants:
        return None
    search = Search(
        network.inputs, variants, room, places, straight(rules), seed, begun + seconds, told, through, workers
    )
    search.left = BUDGET_A_SECOND * seconds * (workers or USUAL_WORKERS)
    return search


def labels_for(network: Network, deadline: float | None = None) -> list[Labels]:
    """The labels of the networks of torches to try: the fewest torches, more with fewer connections, and as mapped.

    Those come first that ask for the fewest things to be heard: they are laid soonest.
    """
    mapped = map_network(network, EXACT_COST)
    plain = labels_of(network, mapped)
    if plain is None or len(plain.table) > MOST_LABELS:
        return []
    others = [labels_of(network, one) for one in fewest_torches(network, len(plain.torch), deadline=deadline)]
    found: list[Labels] = []
    for one in sorted((one for one in (*others, plain) if one is not None), key=_asked):
        if len(one.table) <= MOST_LABELS and one not in found:
            found.append(one)
    return found


def _asked(one: Labels) -> tuple[int, int]:
    """How many things must be heard by its labels together, and by how many torches."""
    return sum(map(len, one.needs)), len(one.torch)


def straight(rules: Sequence[RuleSet]) -> bool:
    """Whether a rule set wants wires to arrive straight at what they power."""
    return any(one.wire.pointing == "through" for one in rules)


class Search:
    """Boxes from a fair size downwards; `run` gives the best layout, `tried` what was asked."""

    def __init__(
        self,
        inputs: tuple[str, ...],
        variants: Sequence[Labels],
        room: Cell | None,
        places: Mapping[str, Place],
        arriving_straight: bool,
        seed: int,
        deadline: float,
        told: Told | None,
        through: tuple[int, str] | None = None,
        workers: int | None = None,
    ) -> None:
        self.inputs, self.variants, self.room, self.places = inputs, variants, room, places
        self.straight, self.seed, self.told, self.through = arriving_straight, seed, told, through
        self.runs: Through | None = None  # how the signal runs through the best layout
        self.deadline = deadline  # of the monotonic clock
        self.tried: list[tuple[Cell, str]] = []
        self.dead: set[tuple[Cell, int]] = set()
        self.best: Found | None = None
        self.box: Cell | None = None
        self.asked: Cell = (0, 0, 0)  # the box that is waited for
        self.stopped = False
        self.found_with = 0  # the network of torches of the best layout
        self.left = 0.0  # conflicts
        self.before, self.since = 0.0, 0.0  # conflicts until the best layout, and since
        self.level, self.turn = 0, 0  # how many layouts were found; rounds since the last
        self.queue: list[Try] = []  # of this round
        self.workers = workers or min(MOST_PROCESSES, os.cpu_count() or 1)
        self.sizes = list(_boxes(room, places))
        least = min(
            len(one.lever) + len(one.output) + 2 * len(one.torch) + FLIP_FLOP * len(one.latches) for one in variants
        )
        latches = bool(variants[0].latches)
        self.conflicts = CONFLICTS_WITH_LATCHES if latches else CONFLICTS
        room_for = (THROUGH_ROOM if through else 1) * (PINNED_ROOM if places else 1)
        self.fair = (FAIR_WITH_LATCHES if latches else FAIR) * least * room_for

    def run(self) -> Found | None:
        """Go on until nothing smaller is found in time."""
        with Answers(self.workers) as answers:
            while ahead := self._ahead():
                answer = answers.first(ahead, self._going)
                if answer is None:
                    self._late(answers.known(ahead))
                    break
                self._note(ahead[0], answer)
        return self.best

    def _going(self) -> bool:
        """Whether there is time, and nobody has ended it."""
        self.stopped = self.told is not None and self.told(self.asked, self.box)
        return not self.stopped and monotonic() < self.deadline

    def _ahead(self) -> list[Try]:
        """The next tries, if none of them succeeds: as many as can be worked on; none where it is over."""
        left, since, queue, turn = self.left, self.since, self.queue, self.turn
        enough = max(LEAST_IN_VAIN, IN_VAIN * self.before)
        found: list[Try] = []
        while len(found) < AHEAD * self.workers and left > 0 and (self.best is None or since <= enough):
            if not queue:
                queue = self._round(turn) if self.best is not None or turn < GIVE_UP else []
                turn += 1
            if not queue:
                break
            one, queue = queue[0], queue[1:]
            if self._is_dead(one):
                continue
            found.append(one)
            left -= one.conflicts * _weight(one.size)
            since += one.conflicts * _weight(one.size)
            if len(found) == 1:
                self.asked, self.queue, self.turn = one.size, queue, turn
        return found

    def _is_dead(self, one: Try) -> bool:
        return (one.size, self.variants.index(one.labels)) in self.dead

    def _note(self, one: Try, answer: Answer) -> None:
        """The answer to a try: what it cost, and the better layout or the dead end that it is."""
        cost = max(answer.conflicts, LEAST) * _weight(one.size)
        self.left -= cost
        self.since += cost
        self.tried.append((one.size, answer.found if isinstance(answer.found, str) else "found"))
        if answer.found == "none" and self.through is None:
            self.dead.add((one.size, self.variants.index(one.labels)))
        if not isinstance(answer.found, str):
            self._take(one, answer.found)

    def _take(self, one: Try, found: Found) -> None:
        """A better layout: the search begins anew below it."""
        self.box, self.best, self.runs = one.size, found, one.through
        self.found_with = self.variants.index(one.labels)
        self.before += self.since
        self.since, self.turn, self.queue, self.level = 0.0, 0, [], self.level + 1

    def _late(self, known: Sequence[tuple[Try, Answer]]) -> None:
        """The end before its time: what was found out of turn counts, too."""
        self.tried.append((self.asked, "stopped" if self.stopped else "not decided"))
        for one, answer in known:
            if not isinstance(answer.found, str) and (self.box is None or _volume(one.size) < _volume(self.box)):
                self.tried.append((one.size, "found"))
                self._take(one, answer.found)

    def _round(self, turn: int) -> list[Try]:
        """The tries of a round: some boxes near the volume that is wanted, with the best layout's network of torches;
        some of them, and all while there is no layout yet, with another one, too.

        Below a layout a few boxes are asked for with several seeds: some find in seconds what others do not in minutes.
        A round has twice the conflicts of the one before for each try.
        """
        if self.box is not None:
            sizes = [size for size in self.sizes if _volume(size) < _volume(self.box)]
            wanted = _volume(self.box) * TIGHTER
        else:
            sizes, wanted = self.sizes, self.fair * WIDER**turn
        sizes = sorted(sizes, key=lambda size: (abs(_volume(size) - wanted) + _unevenness(size), size))
        turns = self._variants(turn)
        alive = {size: [number for number in turns if (size, number) not in self.dead] for size in sizes}
        first, seeds = (BOXES, 1) if self.box is None else (BOXES_BELOW, SEEDS_BELOW)
        chosen = [size for size in sizes if alive[size]][:first]
        again = chosen if self.box is None else chosen[:OTHERS]
        pairs = [(size, alive[size][0]) for size in chosen * seeds]
        pairs += [(size, alive[size][1]) for size in again if len(alive[size]) > 1]
        tries = []
        for number, (size, variant) in enumerate(pairs):
            seed = ((self.seed * 100 + self.level) * 100 + turn) * 100 + number
            labels, through = self.variants[variant], self._through(size, number)
            conflicts = self.conflicts << turn
            tries.append(Try(labels, self.inputs, size, self.places, self.straight, seed, conflicts, through))
        return tries

    def _variants(self, turn: int) -> list[int]:
        """The networks of torches in the order of their turns: that of the best layout, and the others by rounds."""
        others = [number for number in range(len(self.variants)) if number != self.found_with]
        first = turn % len(others) if others else 0
        return [self.found_with, *others[first:], *others[:first]]

    def _through(self, size: Cell, number: int) -> Through | None:
        """Where the signal runs through a box of that size: in a row near the middle, low or high."""
        if self.through is None:
            return None
        rows = range(size[1] // 4, size[1] - size[1] // 4)
        return Through(*self.through, rows[number // 2 % len(rows)], 1 + number % min(2, size[2] - 1))


def _volume(size: Cell) -> int:
    return size[0] * size[1] * size[2]


def _weight(size: Cell) -> float:
    """What a conflict in a box of that size counts."""
    return _volume(size) / PLAIN_VOLUME


def _unevenness(size: Cell) -> int:
    """How many cells of volume a box is put back for being long or flat: such boxes seldom hold what others hold."""
    x, y, z = size
    return 3 * max(abs(x - y) - 1, 0) + 12 * max(3 - z, 0)


def _boxes(room: Cell | None, places: Mapping[str, Place]) -> Iterator[Cell]:
    """Boxes to try; where nothing tells east from north, those that lie along x only."""
    most = room or (LONGEST_SIDE, LONGEST_SIDE, TALLEST)
    told_apart = room is not None or bool(places)
    pinned = [place for place in places.values() if isinstance(place, tuple)]
    least = [max([LEAST_SIDE, *(cell[axis] + 1 for cell in pinned)]) for axis in (0, 1)]
    for x in range(least[0], min(LONGEST_SIDE, most[0]) + 1):
        for y in range(least[1], min(LONGEST_SIDE, most[1]) + 1):
            for z in range(LOWEST, min(TALLEST, most[2]) + 1):
                if (x >= y or told_apart) and x <= LONG * y and y <= LONG * x:
                    yield (x, y, z)
