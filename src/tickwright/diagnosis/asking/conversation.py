"""The conversation: questions and answers, the chances of each build, when it is confirmed, and what comes after."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from itertools import combinations
from typing import Any, NamedTuple

from tickwright.diagnosis.asking.questions import (
    BEFORE,
    EFFORT,
    MISFIT,
    Asked,
    Behaviour,
    Question,
    level_questions,
    lit_questions,
    look_questions,
    times_questions,
    told_by,
)
from tickwright.diagnosis.asking.shown import Script, Stage, first_scripts
from tickwright.diagnosis.asking.universe import Suspect, can_stand, seen_there, suspects_of, with_count
from tickwright.diagnosis.asking.wording import BACK, NO, SKIP, YES, answer_text, question_text, read_answer
from tickwright.diagnosis.diagnosing import Progress
from tickwright.diagnosis.mistakes import Mistake
from tickwright.engine.running import rules_for
from tickwright.errors import UsageError
from tickwright.kinds import PARTS, Part
from tickwright.plan.model import Plan
from tickwright.plan.setup import Setup
from tickwright.plan.validate import validate
from tickwright.rules import RuleSet
from tickwright.space import Cell

UNNOTICED = 0.05  # how much less likely a mistake is that shows at no output: somebody asks since something is wrong
SURE = 0.8  # the chance from which on a mistake that was looked at is confirmed
MOST_SEEN = 2  # cells of one mistake that are all looked at, such as two neighbours swapped; of more, one
LOOK_FROM = 0.5  # the chance from which on the likeliest is looked at
TIES = 0.1  # bits that decide nothing: then the effort does
NAMING = 0.8  # the chance that somebody says what is otherwise in a row, and not only that something is
LITTLE = 0.4  # bits: if no question tells more, further scripts of the hand are tried
MOST_WEIGHED = 800  # suspects that questions are weighed by
MOST_LEVELS = 40  # suspects whose levels are compared
MOST_PAIRED = 40
MOST_TRIED = 200  # suspects that are run under further scripts, or whose places are looked at in turn
PAIRED = 0.3  # how much likelier one mistake is than two
MOST_SHOWN = 5
MOST_ANSWERS = 6


class Leading(NamedTuple):
    """One of the likeliest explanations: its mistakes (none: it is built as planned) and its chance."""

    mistakes: tuple[Mistake, ...]
    chance: float

    def as_data(self) -> dict[str, Any]:
        """As JSON shows it."""
        return {"mistakes": [one.as_data() for one in self.mistakes], "chance": round(self.chance, 6)}


class Round(NamedTuple):
    """What is asked next, None if nothing is; what may be answered; what is likeliest; whether it is confirmed."""

    question: str | None
    answers: tuple[str, ...]
    leading: tuple[Leading, ...]
    done: bool

    def as_data(self) -> dict[str, Any]:
        """As JSON shows it."""
        leading = [one.as_data() for one in self.leading]
        return {"question": self.question, "answers": list(self.answers), "leading": leading, "done": self.done}


class Evidence(NamedTuple):
    """One answer; `key` is None where it was not known."""

    question: Question
    key: Hashable
    text: str
    known: bool = True


@dataclass(slots=True)
class _Chapter:
    """What was found and mended before the questions went on."""

    evidence: list[Evidence]
    found: Suspect
    weights: list[float]


class Conversation:
    """Diagnose a build by asking: `round` is what is asked now, `answer` takes the answer, `rounds` has all so far.

    `progress` is told what is being done. Raises UsageError for a plan without outputs, PlanError for one that cannot
    stand.

    >>> from tickwright.plan import loads
    >>> plan = loads('''format = "tickwright plan 1"
    ... legend = {"#" = "block", b = "short-button", r = "repeater east", L = "lamp"}
    ... layer = [{rows = "###"}, {rows = "brL"}]
    ... triggers = {press = [0, 0, 1]}
    ... outputs = {lamp = [2, 0, 1]}''')
    >>> talk = Conversation(plan)
    >>> talk.ask("stands", (1, 0, 1))
    >>> talk.answer("repeater east delay=3")
    >>> talk.round.done, talk.round.leading[0].mistakes[0].text
    (True, 'the repeater at (1, 0, 1) has 3 ticks instead of 1 tick')
    """

    def __init__(self, plan: Plan, rules: RuleSet | str | None = None, progress: Progress | None = None) -> None:
        ruleset = rules_for(plan, rules)
        validate(plan, ruleset)
        if not plan.outputs:
            raise UsageError("The plan names no output: add one under [outputs], such as lamp = [x, y, z].")
        self.progress = progress
        self.plan, self.rules = plan, ruleset
        self.suspects = suspects_of(Setup(plan, ruleset))
        self.stage = Stage(plan, ruleset)
        self.asked = Asked(self.stage, self.suspects)
        self.weights = [one.weight for one in self.suspects]
        self.evidence: list[Evidence] = []
        self.fits: list[list[float]] = []  # fits[answer][suspect]
        self.mended: list[_Chapter] = []
        self.rounds: list[Round] = []
        self.over = False
        self._known = {frozenset(one.changes.items()) for one in self.suspects if not one.rate and not one.rules}
        for number, script in enumerate(first_scripts(plan)):
            self._tell(f"trying {len(self.suspects):,} builds, trigger {number + 1}")
            self.stage.add_script(script, self.suspects, range(len(self.suspects)))
        self.weights = [
            weight * UNNOTICED if self.asked.unnoticed(number) else weight for number, weight in enumerate(self.weights)
        ]
        self._confirmed = False
        self._set(self._next())

    # --- what one does ---------------------------------------------------------------------------------------------

    def answer(self, text: str) -> None:
        """Take an answer to the question that stands; "back" takes the last one back, "don't know" leaves it open.

        Raises UsageError for a text that answers nothing; then nothing has changed.
        """
        word = " ".join(text.lower().split())
        if word in (BACK, "undo"):
            self.take_back()
            return
        if self.question is None:
            raise UsageError("Nothing is asked any more: take an answer back, or begin anew.")
        question = self.question
        if question.kind == "mended":
            self._after_mending(bool(read_answer(self.stage, question, text)))
            return
        known = word not in (SKIP, "dont know", "do not know", "?")
        key = read_answer(self.stage, question, text) if known else None
        self._add(Evidence(question, key, text, known))
        self._set(self._next())

    def take_back(self) -> None:
        """Forget the last answer; its question stands again."""
        if self.over:
            self.over = False
        elif self.evidence:
            taken = self.evidence.pop()
            self.fits.pop()
            self._confirmed = self._is_confirmed()
            self._set(taken.question)
            return
        elif self.mended:
            chapter = self.mended.pop()
            self.weights = [*chapter.weights, *self.weights[len(chapter.weights) :]]
            self._begin_with(chapter.evidence)
        else:
            raise UsageError("There is no answer to take back.")
        self._set(self._next())

    def ask(self, kind: str, cell: Cell) -> None:
        """Ask next what stands in a cell, for a place that one wants to look at oneself."""
        if kind != "stands":
            raise UsageError(f'One may ask "stands" of a cell, not "{kind}".')
        self._set(Question("stands", cells=(cell,)))

    def asks(self) -> dict[str, Any] | None:
        """What is asked now as data, for programs that answer: acts and moments in steps.

        None if nothing is asked. `at_steps` counts from the last act, -1 for a look before the first act.
        """
        question = self.question
        if question is None:
            return None
        acts: list[dict[str, Any]] = []
        if question.kind in ("lit", "times", "level"):
            script = self.stage.scripts[question.script]
            acts = [{"step": step, "trigger": name, "act": act} for step, name, act in script.acts if name]
        cells = [list(cell) for cell in question.cells]
        return {
            "kind": question.kind,
            "hand": acts,
            "at_steps": question.at_steps if question.kind in ("lit", "level") else None,
            "cells": cells,
            "output": question.output if question.kind == "times" else None,
        }

    @property
    def round(self) -> Round:
        """What is asked now."""
        return self.rounds[-1]

    @property
    def place(self) -> Cell | None:
        """Where the likeliest mistake is."""
        return self._top().place

    def chances(self) -> list[float]:
        """The chance of each suspect."""
        found = list(self.weights)
        for fits in self.fits:
            found = [weight * fit for weight, fit in zip(found, fits, strict=True)]
        whole = sum(found)
        return [weight / whole for weight in found]

    def leading(self, most: int = MOST_SHOWN) -> tuple[Leading, ...]:
        """The likeliest explanations."""
        chances = self.chances()
        return tuple(Leading(self.suspects[number].mistakes, chances[number]) for number in _ranked(chances)[:most])

    # --- what is asked next ----------------------------------------------------------------------------------------

    def _set(self, question: Question | None) -> None:
        self.question = question
        leading = self.leading()
        if question is None:
            self.rounds.append(Round(None, (), leading, self._confirmed or self.over))
            return
        text = question_text(self.stage, question, self.suspects)
        if question.kind == "mended":
            found = "; ".join(one.look for one in self._top().mistakes)
            text = f"Found: {self._top_text()}. {text.replace('Mend this', f'Mend this ({found})')}"
        self.rounds.append(Round(text, tuple(self._answers(question)), leading, question.kind == "mended"))

    def _next(self) -> Question | None:
        if self.over:
            return None
        if self._confirmed:
            return Question("mended")
        chances = self.chances()
        asked = {one.question for one in self.evidence}
        confirming = self._confirming_look(chances, asked)
        if confirming is not None:
            return confirming
        weighed = _likeliest(chances)
        best = self._best(weighed, asked)
        if (best is None or best[0] < LITTLE) and len(weighed) > 1 and self._more_scripts(weighed):
            best = self._best(weighed, asked)
        if best is not None and best[0] > 0.02:
            return best[1]
        return self._further_look(chances, asked)

    def _confirming_look(self, chances: list[float], asked: set[Question]) -> Question | None:
        """A look at the likeliest mistake, or the likeliest place, once it is likelier than all others together."""
        number = _ranked(chances)[0]
        top = self.suspects[number]
        if chances[number] < LOOK_FROM:
            return self._look_at_place(chances, asked)
        if not top.mistakes:
            return None
        if top.rate or top.rules:
            question = Question("world", number)
            return question if question not in asked else None
        shown = {cell for one in self.evidence for cell, _ in seen_in(one)}
        for mistake in top.mistakes:
            looks = [Question("stands", cells=(cell,)) for cell, _ in mistake.changes]
            fresh = [look for look in looks if look.cells[0] not in shown and look not in asked]
            if len(looks) - len(fresh) < _looks_needed(mistake):
                return fresh[0]
        return None

    def _look_at_place(self, chances: list[float], asked: set[Question]) -> Question | None:
        """A look at one cell, once it is nearly certain that it is wrong and only open what stands there."""
        by_cell: dict[Cell, float] = {}
        for number, chance in _likeliest(chances).items():
            for cell in self.suspects[number].changes:
                by_cell[cell] = by_cell.get(cell, 0.0) + chance
        if max(by_cell.values(), default=0.0) < SURE:
            return None
        cell = max(by_cell, key=by_cell.__getitem__)
        question = Question("stands", cells=(cell,))
        return question if question not in asked else None

    def _best(self, weighed: dict[int, float], asked: set[Question]) -> tuple[float, Question] | None:
        """The question that tells most, and of those that tell as much the one that costs least effort."""
        told: dict[Question, float] = {}
        for question in (*lit_questions(self.asked, weighed), *times_questions(self.asked)):
            told[question] = told_by(self.asked, question, weighed)
        told |= look_questions(self.asked, weighed, self._naming())
        few = dict(list(weighed.items())[:MOST_LEVELS])
        for question in level_questions(self.asked):
            told[question] = told_by(self.asked, question, few) * sum(few.values())
        told = {question: bits for question, bits in told.items() if question not in asked}
        if not told:
            return None
        most = max(told.values())
        near = [question for question, bits in told.items() if bits >= most - TIES]
        best = min(near, key=lambda question: (self._effort(question), -told[question]))
        return told[best], best

    def _naming(self) -> float:
        """The chance that what is otherwise in a row is named: as it was of the last one that was not as planned."""
        rows = [one.key for one in self.evidence if one.known and one.question.kind == "row" and one.key is not True]
        return NAMING if not rows else float(rows[-1] is not False)

    def _effort(self, question: Question) -> float:
        acts = len(self.stage.scripts[question.script].acts) if question.kind in ("lit", "times", "level") else 0
        before = question.kind == "lit" and question.at_steps == BEFORE
        return EFFORT[question.kind] + 0.2 * max(acts - 1, 0) - 0.1 * before

    def _further_look(self, chances: list[float], asked: set[Question]) -> Question | None:
        """Where nothing tells the likeliest apart: a look at one after another."""
        for number in _ranked(chances)[:MOST_TRIED]:
            place = self.suspects[number].place
            question = Question("stands", cells=(place,)) if place is not None else None
            if question is not None and question not in asked:
                return question
        return None

    def _more_scripts(self, weighed: dict[int, float]) -> bool:
        """Two and three presses, and a lever there and back, for the builds that are still likely; whether any came."""
        if len(self.stage.scripts) > len(first_scripts(self.plan)) or not self.plan.triggers:
            return False
        likely = list(weighed)[:MOST_TRIED]
        for script in further_scripts(self.plan, self.asked):
            self.stage.add_script(script, self.suspects, likely)
        return True

    # --- what answers do -------------------------------------------------------------------------------------------

    def _add(self, evidence: Evidence) -> None:
        self.evidence.append(evidence)
        self.fits.append(self._fits_of(evidence, range(len(self.suspects))))
        if evidence.known:
            self._think_further(evidence)
        self._confirmed = self._is_confirmed()

    def _fits_of(self, evidence: Evidence, numbers: Iterable[int]) -> list[float]:
        if not evidence.known:
            return [1.0 for _ in numbers]
        question = evidence.question
        if question.kind in ("lit", "times", "level"):
            numbers = list(numbers)
            self.stage.run(question.script, self.suspects, numbers)
        return [self.asked.likelihood(question, evidence.key, number) for number in numbers]

    def _think_further(self, evidence: Evidence) -> None:
        """Builds that an answer makes one think of: counts solved from a hold, what was seen, two mistakes at once."""
        question, key = evidence.question, evidence.key
        fresh: list[Suspect] = []
        if question.kind == "times" and isinstance(key, Behaviour) and key.kind == "pulses" and key.hold_steps:
            fresh += self._counts_for(question, key.hold_steps)
        wrong = [(cell, part) for cell, part in seen_in(evidence) if part != self.plan.cells.get(cell)]
        mistakes = [seen_there(self.plan, cell, part) for cell, part in wrong]
        fresh += [Suspect((one,), min(self.weights), dict(one.changes), {}) for one in mistakes]
        if len(mistakes) > 1:
            fresh.append(Suspect(tuple(mistakes), min(self.weights), dict(wrong), {}))
        self._extend(fresh)
        if len(self.evidence) > 1 and self._fewest_misfits():
            self._extend(self._pairs())

    def _counts_for(self, question: Question, hold_steps: int) -> list[Suspect]:
        """Numbers of items that would give that hold: the hold grows evenly with them, as two runs show."""
        found = []
        for cell, part in self.plan.cells.items():
            if not PARTS[part.kind].slots or part.items < 2:
                continue
            own = self.asked.behaviour(question, 0).hold_steps
            less = self._number_of({cell: part._replace(items=part.items - 1)})
            each = own - self.asked.behaviour(question, less).hold_steps if less is not None else 0
            if each <= 0 or not own:
                continue
            near = part.items + round((hold_steps - own) / each)
            for items in (near - 1, near, near + 1):
                if 0 <= items <= self.rules.capacity(part.kind) and items != part.items:
                    mistake = with_count(self.plan, cell, items)
                    weight = max(self.weights[less or 0], min(self.weights))
                    found.append(Suspect((mistake,), weight, dict(mistake.changes), {}))
        return found

    def _number_of(self, changes: dict[Cell, Any]) -> int | None:
        return next((n for n, one in enumerate(self.suspects) if one.changes == changes), None)

    def _fewest_misfits(self) -> int:
        """How many answers the best of all builds misses."""
        columns = zip(*self.fits, strict=True)
        return min((sum(fit <= MISFIT for fit in column) for column in columns), default=0)

    def _pairs(self) -> list[Suspect]:
        """Every two of the likeliest single mistakes at once."""
        chances = self.chances()
        ranked = (number for number in _ranked(chances) if self.suspects[number].changes)
        singles = [number for number in ranked if len(self.suspects[number].mistakes) == 1]
        whole = sum(self.weights)
        found = []
        for a, b in combinations(singles[:MOST_PAIRED], 2):
            one, other = self.suspects[a], self.suspects[b]
            changes = {**one.changes, **other.changes}
            if len(changes) < len(one.changes) + len(other.changes) or one.moved or other.moved:
                continue
            if can_stand(Setup(self.plan, self.rules), tuple(changes.items()), {}):
                weight = PAIRED * self.weights[a] * self.weights[b] / whole
                found.append(Suspect((*one.mistakes, *other.mistakes), weight, changes, {}))
        return found

    def _extend(self, suspects: Iterable[Suspect]) -> None:
        """Think of further builds, and hold all answers against them."""
        first = len(self.suspects)
        for one in suspects:
            key = frozenset(one.changes.items())
            if key not in self._known:
                self._known.add(key)
                self.suspects.append(one)
                self.weights.append(one.weight)
        fresh = range(first, len(self.suspects))
        if not fresh:
            return
        for number in range(len(self.stage.scripts)):
            if any(one.question.script == number for one in self.evidence) or number < len(self.plan.triggers):
                self.stage.run(number, self.suspects, fresh)
        for fits, evidence in zip(self.fits, self.evidence, strict=True):
            fits.extend(self._fits_of(evidence, fresh))

    def _is_confirmed(self) -> bool:
        """Whether a look has shown every mistake of the likeliest build, and it is likely enough."""
        chances = self.chances()
        number = _ranked(chances)[0]
        top = self.suspects[number]
        if chances[number] < SURE or not top.mistakes:
            return False
        looked = [change for one in self.evidence for change in seen_in(one)]
        seen = {(cell, part) for cell, part in looked if part != self.plan.cells.get(cell)}
        said = {one.question.script for one in self.evidence if one.question.kind == "world" and one.key is True}
        if top.rate or top.rules:
            return number in said
        return all(len(seen.intersection(one.changes)) >= _looks_needed(one) for one in top.mistakes)

    # --- after it was found ----------------------------------------------------------------------------------------

    def _after_mending(self, works: bool) -> None:
        """It does what the plan says: all is done. It does not: what else is wrong is asked from here on."""
        if works:
            self.over = True
            self._set(None)
            return
        found = self._top()
        before = self.evidence
        self.mended.append(_Chapter(before, found, self.weights))
        self.weights = [one.weight for one in self.suspects]
        self._begin_with([])
        self._weigh_by(before, found)
        self._set(self._next())

    def _begin_with(self, evidence: list[Evidence]) -> None:
        self.evidence, self.fits = [], []
        self._confirmed = False
        for one in evidence:
            self.evidence.append(one)
            self.fits.append(self._fits_of(one, range(len(self.suspects))))
        self._confirmed = self._is_confirmed()

    def _weigh_by(self, before: list[Evidence], found: Suspect) -> None:
        """What was answered before the mending still tells: of each mistake together with the one that was found."""
        gone = frozenset(found.changes.items())
        both, of = [], []
        least = min(self.weights) * MISFIT
        for number, one in enumerate(self.suspects):
            if frozenset(one.changes.items()) == gone or len(one.mistakes) > 1:
                self.weights[number] = least
            elif one.changes and not one.moved and not set(one.changes) & set(found.changes):
                both.append(Suspect((), 0.0, {**found.changes, **one.changes}, found.moved))
                of.append(number)
        stage = Stage(self.plan, self.rules)
        asked = Asked(stage, [self.suspects[0], *both])
        stage.cells = self.stage.cells
        for script in self.stage.scripts:
            stage.add_script(script, asked.suspects, ())
        for place, number in enumerate(of, 1):
            for said in before:
                if said.known and said.question.kind != "world":
                    self.weights[number] *= asked.likelihood(said.question, said.key, place)

    # --- small things ----------------------------------------------------------------------------------------------

    def _top(self) -> Suspect:
        return self.suspects[_ranked(self.chances())[0]]

    def _top_text(self) -> str:
        return ", and ".join(one.text for one in self._top().mistakes)

    def _answers(self, question: Question) -> list[str]:
        """What the likeliest builds would answer, the likeliest first."""
        if question.kind in ("world", "mended"):
            return [YES, NO] if question.kind == "mended" else [YES, NO, SKIP]
        weighed = _likeliest(self.chances())
        groups: dict[str, float] = {}
        for number, chance in weighed.items():
            key = self.asked.answer(question, number)
            if question.kind == "times":
                key = self.asked.behaviour(question, number)
            text = answer_text(self.stage, question, key)
            groups[text] = groups.get(text, 0.0) + chance
        order = sorted(groups, key=lambda text: -groups[text])[:MOST_ANSWERS]
        if question.kind == "row":
            order = [*dict.fromkeys([YES, *order[: MOST_ANSWERS - 1], NO])]
        return [*order, SKIP]

    def _tell(self, what: str) -> None:
        if self.progress is not None and self.progress(what):
            raise KeyboardInterrupt


def _looks_needed(mistake: Mistake) -> int:
    """How many of a mistake's cells must be looked at before it is found."""
    return len(mistake.changes) if len(mistake.changes) <= MOST_SEEN else 1


def seen_in(evidence: Evidence) -> list[tuple[Cell, Part | None]]:
    """What an answer says stands in cells that were looked at."""
    question, key = evidence.question, evidence.key
    if not evidence.known or question.kind not in ("stands", "extra", "row"):
        return []
    if question.kind == "stands":
        assert key is None or isinstance(key, Part)
        return [(question.cells[0], key)]
    return sorted(key) if isinstance(key, frozenset) else []


def _ranked(chances: list[float]) -> list[int]:
    """The suspects by their numbers, the likeliest first."""
    return sorted(range(len(chances)), key=lambda number: -chances[number])


def _likeliest(chances: list[float]) -> dict[int, float]:
    """The likeliest suspects, up to so many, that make up nearly all."""
    found: dict[int, float] = {}
    whole = 0.0
    for number in _ranked(chances)[:MOST_WEIGHED]:
        found[number] = chances[number]
        whole += chances[number]
        if whole > 0.998:
            break
    return found


def further_scripts(plan: Plan, asked: Asked) -> list[Script]:
    """Two and three presses of a trigger, soon and after the output's end; a lever there and back; two triggers."""
    found = []
    names = list(plan.triggers)
    for number, name in enumerate(names[:3]):
        part = plan.cells.get(plan.triggers[name])
        seen = asked.behaviour(Question("times", number, 0, (), asked.stage.outputs[0]), 0)
        hold = seen.hold_steps or 60
        if part is not None and PARTS[part.kind].behaviour == "lever":
            back = "on" if part.thrown else "off"
            there = "off" if part.thrown else "on"
            found.append(Script(((0, name, there), (max(hold // 2, 20), name, back))))
            continue
        soon, late = max(hold // 2, 30), hold + 60
        found.append(Script(((0, name, None), (soon, name, None))))
        found.append(Script(((0, name, None), (late, name, None))))
        found.append(Script(((0, name, None), (soon, name, None), (2 * soon, name, None))))
    if len(names) > 1:
        found.append(Script(((0, names[0], None), (40, names[1], None))))
        found.append(Script(((0, names[1], None), (40, names[0], None))))
    return found
