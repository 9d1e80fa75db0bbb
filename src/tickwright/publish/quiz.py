"""Three questions about a circuit for a lesson: right answers are from runs, wrong ones where they can be."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice
from typing import TYPE_CHECKING, NamedTuple

from tickwright.durations import duration_text
from tickwright.publish.sentences import main_result

if TYPE_CHECKING:
    from tickwright.diagnosis import Sentence
    from tickwright.dossier import Answer
    from tickwright.material import Material

QUESTIONS = 3
CHOICES = 4


class Question(NamedTuple):
    """A question, what may be answered, the number of the right answer from 0, and why it is right."""

    text: str
    choices: tuple[str, ...]
    right: int
    why: str


def quiz(material: Material, most: int = QUESTIONS) -> list[Question]:
    """Up to so many questions about the plan's main output; fewer only of a plan of which nothing is measured."""
    return list(islice(_questions(material), most))


def main_answer(material: Material) -> Answer | None:
    """What is known of the press and output that are spoken of first."""
    main = main_result(material.plan, [one.measured for one in material.dossier.answers])
    return next((one for one in material.dossier.answers if one.measured is main), None)


def main_sentences(material: Material) -> list[Sentence]:
    """Why that output holds as long as it does."""
    known = main_answer(material)
    if known is None or material.why is None:
        return []
    pair = (known.measured.trigger, known.measured.output)
    return [one for one in material.why.sentences if (one.trigger, one.output) == pair]


def _questions(material: Material) -> Iterator[Question]:
    known = main_answer(material)
    if known is None:
        return
    told = {one.kind: one for one in reversed(main_sentences(material))}
    for ask in (_hold, _shorter, _again, _tick_more, _level, _shown, _delay):
        yield from ask(material, known, told)


Told = dict[str, "Sentence"]


def _times(right: int, others: Iterable[int | None]) -> tuple[tuple[str, ...], int]:
    """Times to choose from, least first, and the place of the right one."""
    found = [right]
    for other in (*others, 2 * right, right // 2, right + 20, right + 2):
        if other is not None and other > 0 and other not in found and len(found) < CHOICES:
            found.append(other)
    found.sort()
    return tuple(duration_text(steps) for steps in found), found.index(right)


def _named(known: Answer) -> str:
    return f'"{known.measured.output}"'


def _hold(_: Material, known: Answer, told: Told) -> Iterator[Question]:
    found = known.measured
    if found.hold_steps is None or found.kind not in ("one-shot", "train"):
        return
    press = found.trigger_length_steps or 0
    holds = [row.hold_steps for row in known.lengths if row.hold_steps is not None]
    choices, right = _times(found.hold_steps, [found.hold_steps - press, press, *sorted(set(holds))[:1]])
    reason = told.get("sum") or told.get("answer")
    gone = "on" if found.rest == "off" else "off"
    text = f'After one press of "{found.trigger}", for how long is {_named(known)} {gone}, from first to last?'
    yield Question(text, choices, right, reason.text if reason is not None else f"A run holds {choices[right]}.")


def _shorter(_: Material, known: Answer, told: Told) -> Iterator[Question]:
    found = known.measured
    least = found.minimum_trigger_steps
    row = next((row for row in known.lengths if least is not None and row.length_steps == least - 1), None)
    if row is None or found.hold_steps is None or row.kind not in ("none", "one-shot", "train", "latched"):
        return
    pulses = len(row.pulses) if row.kind == "train" else 3
    same = f"the same {duration_text(found.hold_steps)}"
    ways = {
        "none": "nothing at all",
        "one-shot": f"one pulse of {duration_text(row.hold_steps or 1)}" if row.kind == "one-shot" else same,
        "train": f"{pulses} pulses",
        "latched": "it never ends",
    }
    choices = tuple(ways.values())
    reason = told.get("shorter")
    text = f"A press of {duration_text(least - 1) if least else ''}, one step too short: what does {_named(known)} do?"
    yield Question(text, choices, list(ways).index(row.kind), reason.text if reason is not None else "So a run shows.")


_AGAIN = {
    "extends": "it holds longer",
    "ignored": "nothing changes",
    "restarts": "it goes out, then starts anew",
    "mixed": "it depends on the moment",
}


def _again(_: Material, known: Answer, __: Told) -> Iterator[Question]:
    verdict = known.retrigger.verdict
    if verdict in _AGAIN and known.measured.rest == "off":
        text = f"You press a second time while {_named(known)} is on. What happens?"
        yield Question(text, tuple(_AGAIN.values()), list(_AGAIN).index(verdict), "Tried at every step of the hold.")


def _tick_more(_: Material, known: Answer, told: Told) -> Iterator[Question]:
    knob = told.get("knob")
    if knob is None or not knob.figures:
        return
    by = knob.figures[-1].value
    choices, right = _times(by, [2 * by, 3 * by, 4 * by])
    text = f"{knob.text.split(' makes it ')[0]}: by how much does the hold of {_named(known)} change?"
    yield Question(text, choices, right, knob.text)


def _level(_: Material, __: Answer, told: Told) -> Iterator[Question]:
    levels = told.get("levels")
    shown = [one.value for one in levels.figures if one.unit == "level"] if levels is not None else []
    if levels is not None and len(shown) >= CHOICES:
        choices = tuple(str(level) for level in shown[:CHOICES])
        who = levels.pieces[0].text
        yield Question(f"What level does {who} show after the second turn?", choices, 1, levels.text)


def _shown(material: Material, known: Answer, _: Told) -> Iterator[Question]:
    own = next((one for one in material.presses if one.own and one.trigger == known.measured.trigger), None)
    if own is None or own.recording.pressed_at_step is None:
        return
    for after in (20, 4, 40, 10):
        step = own.recording.pressed_at_step + after
        if step >= own.recording.trace.steps:
            continue
        value = own.recording.trace.value_at(known.measured.output, step)
        values = sorted({value, *[one for one in (0, 15, 7, 1) if one != value][: CHOICES - 1]})
        text = f"What does {_named(known)} show {duration_text(after)} after the press, from 0 to 15?"
        yield Question(text, tuple(map(str, values)), values.index(value), "So the run shows at that moment.")


def _delay(_: Material, known: Answer, told: Told) -> Iterator[Question]:
    found = known.measured
    if found.delay_steps:
        choices, right = _times(found.delay_steps, [found.delay_steps + 2, found.delay_steps + 4])
        reason = told.get("delay")
        text = f"How long after the press does {_named(known)} change first?"
        yield Question(text, choices, right, reason.text if reason is not None else "So a run shows.")
