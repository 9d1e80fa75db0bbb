"""The search behind a proof on the fast engine: states and what is remembered of presses as one compiled product.

It gives what `Prover` gives on the same states, from the same order of search; only the judging is done here.
"""

from __future__ import annotations

from tickwright.verify.claims import Outlook
from tickwright.verify.proving import SHOWN_AFTER, Outlooks, Progress, Proof, Question, as_taken, stimuli_texts
from tickwright.verify.ways import FastWays

SHARE = 20_000  # pairs expanded between two looks at what a user wants


class ProductProver:
    """One search of the graph that `ways` has, up to a limit of states."""

    def __init__(self, question: Question, ways: FastWays, limit: int) -> None:
        from tickwright.engine.native import Limit, Product

        self.question, self.claim, self.limit, self.lists = question, question.claim, limit, ways.lists
        graph = self.graph = ways.graph
        limits = [
            Limit(one.output, one.within, one.at_least, one.at_most, one.lowest, one.never)
            for one in self.claim.limits
        ]  # fmt: skip
        self.product = Product(graph, limits, question.hands, question.grid)
        self.outlooks = Outlooks(
            lambda state: graph.after(state)[0], graph.rests, lambda state: as_taken(self.claim, graph.levels(state))
        )
        self.judged: dict[Outlook, str | None] = {}
        self.states: set[int] = set()  # of the circuit, that were judged

    def prove(self, progress: Progress) -> Proof:
        """Search until all is known, something breaks the claim, the limit is reached or `progress` stops it."""
        from tickwright.engine.native.product import ALL, FAULT, LAYER, LIMIT

        product, weight = self.product, 0
        while True:
            ended, pair = product.walk(SHARE, self.limit)
            if ended == FAULT:
                return self._faulty(pair)
            if ended in (ALL, LAYER):
                bad = self._judge()
                if bad is not None:
                    return self._refuted(*bad)
            if ended == ALL:
                worst = self.question.worst(self.outlooks.of(state) for state in self.states)
                return self.question.proved(product.expanded, product.edges, worst)
            if ended == LAYER:
                weight = product.cost(pair)[0]
            elif ended == LIMIT:
                return self._undecided(f"the limit of {self.limit:,} states was reached", weight)
            elif progress is not None and progress(product.expanded, len(product)):
                return self._undecided("stopped by hand", weight)

    def _judge(self) -> tuple[int, str, int] | None:
        """The first pair of the layer whose hands-off future breaks the claim: it, why, and when that can be seen."""
        pairs, states = self.product.layer()
        fresh = dict.fromkeys(states)
        self.states.update(fresh)
        if self.claim.judge is None:
            return None
        wrong = {state: why for state in fresh if (why := self._why(state)) is not None}
        for pair, state in zip(pairs, states, strict=True) if wrong else ():
            if state in wrong:
                outlook = self.outlooks.of(state)
                times = [outlook.rest_steps or 0, *(off or 0 for off in outlook.off_steps)]
                return pair, f"{wrong[state]} after these presses", self.product.cost(pair)[1] + max(times)
        return None

    def _why(self, state: int) -> str | None:
        outlook = self.outlooks.of(state)
        if outlook not in self.judged:
            assert self.claim.judge is not None
            self.judged[outlook] = self.claim.judge(outlook)
        return self.judged[outlook]

    def _faulty(self, pair: int) -> Proof:
        found = self.product.fault(pair)
        assert found is not None
        place, code, number = found
        limit = self.claim.limits[place]
        why = f"{self.question.outputs[limit.output]} {limit.fault(code, number)}"
        return self._refuted(pair, why, self.product.cost(pair)[1])

    def _refuted(self, pair: int, why: str, seen: int) -> Proof:
        """The refutation by the acts on the way to the pair."""
        way = [() if one < 0 else self.lists[one] for one in self.product.way(pair)]
        replay = self.question.first + seen + SHOWN_AFTER
        states, edges = self.product.expanded, self.product.edges
        return self.question.proof("refuted", why, states, edges, stimuli_texts(self.question, way), replay)

    def _undecided(self, why: str, weight: int) -> Proof:
        seen = f"no state found so far breaks the claim; {len(self.product):,} states seen, up to {weight} presses"
        return self.question.proof("undecided", f"{why}: {seen}", self.product.expanded, self.product.edges)
