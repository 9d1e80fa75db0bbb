"""The certificate of a search: what was asked, how many layouts there were at each stage, what was found.

A search that is not done keeps in the same file what came of each of its shares, and goes on from there.
"""

from __future__ import annotations

from importlib.metadata import version

import msgspec

from tickwright.design.discovery.alphabet import texts
from tickwright.design.discovery.annealing import Annealing
from tickwright.design.discovery.question import BUDGET_EVENTS, START_STEPS, Question, size_text
from tickwright.design.discovery.searching import Found, Search, Share
from tickwright.engine.native.layouts import Counts
from tickwright.errors import UsageError
from tickwright.plan.files import dumps

FORMAT = "tickwright certificate 1"


class _Winner(msgspec.Struct):
    parts: int
    options: list[int]
    place: int
    works_in: int
    of: int
    order_sensitive: bool
    plan: str
    hold_steps: int | msgspec.UnsetType = msgspec.UNSET  # in a table of holds


class _Share(msgspec.Struct):
    prefix: list[int]
    counts: list[int]
    robust: list[Found]
    sensitive: list[Found]


class Certificate(msgspec.Struct):
    """The file. `winners` were replayed by the reference engine; `shares` is empty once all is done."""

    format: str
    version: str
    behaviour: str
    meaning: str
    box: list[int]
    kinds: list[str]
    alphabet: list[str]
    rules: str
    rest_steps: int
    watch_steps: int
    most_events: int
    proved: bool
    parts: int | None
    winners: list[_Winner]
    counts: dict[str, int]
    shares_done: int
    shares_in_all: int
    seconds: float
    shares: list[_Share] = []
    outputs: list[str] | msgspec.UnsetType = msgspec.UNSET  # kinds that may be the output; any, if it is not there
    without_proof: dict[str, int] | msgspec.UnsetType = msgspec.UNSET  # of a search without proof: seed and tries


def certify(search: Search | Annealing) -> Certificate:
    """The certificate of a search as far as it has come; its winners are replayed. Without proof it proves nothing."""
    question = search.question
    done: dict[tuple[int, ...], Share] = {}
    in_all, proved, by_trial = 0, False, {}
    if isinstance(search, Search):
        done, in_all, proved = search.done, len(search.shares), search.proved
    else:
        by_trial = {"seed": search.seed, "tries": search.tries}
    winners = [_winner(search, found) for found in (*search.robust, *search.sensitive)]
    robust = [one.parts for one in winners if not one.order_sensitive]
    return Certificate(
        format=FORMAT,
        version=version("tickwright"),
        behaviour=question.behaviour.text,
        meaning=question.behaviour.meaning,
        box=list(question.size),
        kinds=list(question.entries),
        alphabet=texts(question.parts),
        rules=question.rules.name,
        rest_steps=START_STEPS,
        watch_steps=question.behaviour.watch_steps,
        most_events=BUDGET_EVENTS,
        proved=proved,
        parts=min(robust, default=None),
        winners=sorted(winners, key=_rank),
        counts=search.counts._asdict(),
        shares_done=len(done),
        shares_in_all=in_all,
        seconds=round(search.seconds, 1),
        shares=[] if proved else [_kept(prefix, share) for prefix, share in sorted(done.items())],
        outputs=list(question.outputs) or msgspec.UNSET,
        without_proof=by_trial or msgspec.UNSET,
    )


def _rank(winner: _Winner) -> tuple[int, bool, int, list[int]]:
    steps = winner.hold_steps
    return 0 if steps is msgspec.UNSET else steps, winner.order_sensitive, winner.parts, winner.options


def _winner(search: Search | Annealing, found: Found) -> _Winner:
    plan = search.question.plan(found.options, found.place)
    if found not in search.replays:
        search.replays[found] = search.question.replayed(plan, found.verdict)
    good, of = search.replays[found]
    steps = found.verdict if search.question.behaviour.is_table else msgspec.UNSET
    return _Winner(found.parts, list(found.options), found.place, good, of, good < of, dumps(plan), steps)


def _kept(prefix: tuple[int, ...], share: Share) -> _Share:
    return _Share(list(prefix), list(share.counts), list(share.robust), list(share.sensitive))


def _share(kept: _Share) -> Share:
    return Share(Counts(*kept.counts), tuple(kept.robust), tuple(kept.sensitive))


def _asked(made: Certificate) -> tuple[object, ...]:
    """What a certificate answers, and by which version."""
    return made.format, made.behaviour, made.box, made.kinds, made.alphabet, made.rules, made.version, made.outputs


def encoded(made: Certificate) -> bytes:
    """The certificate as JSON."""
    return msgspec.json.format(msgspec.json.encode(made), indent=2) + b"\n"


def resumed(data: bytes, question: Question, where: str) -> Search:
    """The search that a certificate stopped at, to be gone on with. Raises UsageError if it is of another question."""
    try:
        kept = msgspec.json.decode(data, type=Certificate)
        shares = {tuple(one.prefix): _share(one) for one in kept.shares}
    except (msgspec.DecodeError, TypeError) as error:
        raise UsageError(f"{where} is no certificate ({error}): name another file.") from None
    if _asked(kept) != _asked(certify(Search(question))):
        raise UsageError(
            f'{where} is the certificate of "{kept.behaviour}" in {size_text(kept.box)} with '
            f"{', '.join(kept.kinds)}, by version {kept.version}: name another file."
        )
    search = Search(question, shares, kept.seconds)
    if kept.proved or kept.without_proof is not msgspec.UNSET or not set(shares) <= set(search.shares):
        raise UsageError(f"{where} is done already: name another file, or take it away to search again.")
    return search
