"""A lesson about one plan or several: slides, an outline with the minutes to speak, a quiz, what films are to say."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from importlib.resources import files
from itertools import pairwise
from textwrap import fill
from typing import TYPE_CHECKING, Any, NamedTuple

from tickwright.diagnosis import contrast
from tickwright.durations import STEPS_PER_SECOND, duration_text
from tickwright.publish.against import against_text, short_names
from tickwright.publish.canvas import Drawing, svg_text, told_apart
from tickwright.publish.chart import FULL_SPEED, length_chart, timing_chart
from tickwright.publish.dossier_text import answer_of
from tickwright.publish.isometric import isometric_drawing
from tickwright.publish.quiz import QUESTIONS, Question, main_answer, main_sentences, quiz
from tickwright.publish.raster import fonts, needs_other_fonts
from tickwright.publish.sheet_pictures import LiftedWay, lifted_way
from tickwright.publish.tokens import THEMES

if TYPE_CHECKING:
    from tickwright.diagnosis import Sentence
    from tickwright.material import Material
    from tickwright.publish.film import Caption, Cue
    from tickwright.recording import Recording

WORDS_PER_MINUTE = 130  # of somebody who speaks to a class: common practice, no source
THINKING_SECONDS = 30  # for each question
LONGEST_FILM_SECONDS = 60  # of the world, before the film runs faster than it
MOST_LINES = 3
ROOM = (600.0, 220.0)  # pixels that a picture of the plan has on a slide, which shows it larger
WIDTH = 100
LETTERS = "ABCDEFGH"

# The sentences that one slide tells together, in this order; what a head stands over.
_TOGETHER = (
    ("Why it comes when it does", ("delay",)),
    ("What goes round", ("ring", "loss", "levels")),
    ("What goes one by one", ("items", "rounds")),
    ("What the hold is made of", ("sum",)),
    ("Where one hands over to the other", ("handover",)),
    ("Why it does not end", ("for ever",)),
    ("What one round is made of", ("clock",)),
    ("What begins it", ("cause",)),
    ("How short a press may be", ("least", "shorter")),
    ("What one tick would change", ("knob",)),
)
_CAUTIONS = (
    f"{FULL_SPEED} A slow world stretches them.",
    "Warn people before you show anything that blinks more than three times a second (WCAG 2.2, SC 2.3.1).",
)


class Slide(NamedTuple):
    """One slide: its head, its lines, a picture (None: none), choices of a question, the right one (None: not told)."""

    head: str
    lines: tuple[str, ...]
    picture: Drawing | None = None
    choices: tuple[str, ...] = ()
    right: int | None = None
    seconds: float = 0.0  # beside what the words take: a film, time to think

    @property
    def speaking_seconds(self) -> int:
        """How long the slide takes: its words read out, and what it asks for besides."""
        count = sum(len(text.split()) for text in (self.head, *self.lines, *self.choices))
        return round(count * 60 / WORDS_PER_MINUTE + self.seconds)


def slides(materials: Sequence[Material], film_seconds: Sequence[float] = ()) -> list[Slide]:
    """The slides of a lesson; `film_seconds` is how long the film of each plan lasts."""
    names = told_apart([one.plan.title or "Untitled plan" for one in materials])
    made = [Slide(names[0] if len(names) == 1 else "A lesson", tuple(names) if len(names) > 1 else ())]
    for number, (name, material) in enumerate(zip(names, materials, strict=True)):
        made += _chapter(material, name, film_seconds[number] if number < len(film_seconds) else 0.0)
    for (one, other), called in zip(pairwise(materials), pairwise(names), strict=True):
        made += _pair(one, other, called)
    for number, question in enumerate(_asked(materials), 1):
        made += _questions(question, number)
    made.append(Slide("Before you show it", _CAUTIONS))
    return made


def _asked(materials: Sequence[Material]) -> list[Question]:
    """Three questions, the plans taking turns; of several plans each question names its own."""
    several = len(materials) > 1
    each = [quiz(material) for material in materials]
    names = told_apart([one.plan.title or "Untitled plan" for one in materials])
    found: list[Question] = []
    for turn in range(max(QUESTIONS, len(materials))):
        name, questions = names[turn % len(each)], each[turn % len(each)]
        if turn % QUESTIONS < len(questions) and len(found) < QUESTIONS:
            one = questions[turn % QUESTIONS]
            found.append(one._replace(text=f"{name}. {one.text}") if several else one)
    return found


def _chapter(material: Material, name: str, film_seconds: float) -> Iterator[Slide]:
    told = answer_of(material.dossier, material.charts)
    said = "".join(told["answer"])
    about = [text for text in (said, told["kept"], told["more"]) if text]
    run = _own(material)
    way = _way(material, run)
    yield Slide(name, tuple(about) or ("Nothing is measured of this plan.",), _lit(material, run, way, (), 30))
    if run is not None and run.trace.names:
        yield Slide(
            "Watch one press" if material.plan.triggers else "Watch it run",
            (_times_told(run, film_seconds),),
            timing_chart({name: run}),
            seconds=film_seconds,
        )
    sentences = main_sentences(material)
    for head, kinds in _TOGETHER:
        mine = [one for one in sentences if one.kind in kinds]
        for at in range(0, len(mine), MOST_LINES):
            some = mine[at : at + MOST_LINES]
            yield Slide(head, tuple(one.text for one in some), _picture_of(material, run, way, some, kinds))


def _times_told(run: Recording, film_seconds: float) -> str:
    world = (run.trace.steps - (run.pressed_at_step or 0)) / STEPS_PER_SECOND
    text = f"In the world this takes {world:g} s"
    return f"{text}; the film of it {film_seconds:.0f} s, for it waits while you read." if film_seconds else f"{text}."


def _own(material: Material) -> Recording | None:
    """The run of the press that is spoken of, else the first."""
    known = main_answer(material)
    name = known.measured.trigger if known is not None else None
    own = [press for press in material.presses if press.own]
    press = next((one for one in own if one.trigger == name), next(iter(own), None))
    return press.recording if press is not None else None


def _way(material: Material, run: Recording | None) -> LiftedWay:
    """How the plan is seen largest on a slide."""

    def draw(apart: float | None, aside: bool, unit: float) -> Drawing:
        return _lit(material, run, LiftedWay(apart, aside, unit), (), 30)

    return lifted_way(draw, ROOM, material.plan.size[2])


def _lit(material: Material, run: Recording | None, way: LiftedWay, cells: Sequence[Any], after: int) -> Drawing:
    """The plan some steps after the press, the cells outlined."""
    moment = None
    if run is not None:
        moment = run.moment(min((run.pressed_at_step or 0) + max(after, 0), run.trace.steps - 1))
    plan, rules = material.plan, material.rules
    apart, aside, unit = way
    return isometric_drawing(plan, rules, moment, apart=apart, bare=True, marked=cells, unit=unit, aside=aside)


def _picture_of(
    material: Material, run: Recording | None, way: LiftedWay, some: Sequence[Sentence], kinds: tuple[str, ...]
) -> Drawing | None:
    if "least" in kinds:
        known = main_answer(material)
        if known is not None and any(row.hold_steps is not None for row in known.lengths):
            found = known.measured
            rows, least = {found.output: known.lengths}, {found.output: found.minimum_trigger_steps}
            return length_chart(found.trigger, rows, found.trigger_length_steps, least)
    cells = tuple(dict.fromkeys(cell for one in some for cell in one.cells))
    steps = [step for one in some for step in one.steps]
    return _lit(material, run, way, cells, min(steps) if steps else 30)


def _pair(one: Material, other: Material, names: tuple[str, str]) -> Iterator[Slide]:
    """What two designs differ in, and why, by both runs."""
    if one.why is None or other.why is None:
        return
    told = against_text(short_names(names), (one.dossier, other.dossier), (one.bill, other.bill))
    lines = contrast(one.why, other.why, short_names(names)) + ((told,) if told else ())
    runs = {
        name: run for name, material in zip(names, (one, other), strict=True) if (run := _own(material)) is not None
    }
    picture = timing_chart(runs) if any(run.trace.names for run in runs.values()) else None
    for at in range(0, len(lines), MOST_LINES):
        yield Slide("One against the other", lines[at : at + MOST_LINES], picture)


def _questions(question: Question, number: int) -> Iterator[Slide]:
    yield Slide(f"Question {number}", (question.text,), None, question.choices, None, THINKING_SECONDS)
    yield Slide(f"Answer {number}", (question.text, question.why), None, question.choices, question.right)


# --- the outline -----------------------------------------------------------------------------------------------------


def outline_text(materials: Sequence[Material], films: Sequence[Sequence[Caption]], seconds: Sequence[float]) -> str:
    """The outline of a lesson: slide by slide what to say and how long it takes; then what the films say, and when.

    `films` are the captions of each plan's film (none: no films), `seconds` how long each lasts.
    """
    made = slides(materials, seconds)
    names = told_apart([one.plan.title or "Untitled plan" for one in materials])
    title = "Lesson: " + ", ".join(names)
    whole = sum(slide.speaking_seconds for slide in made)
    lines = [*fill(title, WIDTH).splitlines(), "", *fill(
        f"About {max(round(whole / 60), 1)} minutes, at {WORDS_PER_MINUTE} words a minute, the films played once, "
        f"{THINKING_SECONDS} s to think about each question.", WIDTH).splitlines(), ""]  # fmt: skip
    for number, slide in enumerate(made, 1):
        lines.append(f"{number}. {slide.head} ({_minutes(slide.speaking_seconds)})")
        lines += [fill(line, WIDTH, initial_indent="   ", subsequent_indent="   ") for line in slide.lines]
        for at, choice in enumerate(slide.choices):
            mark = "  <- right" if at == slide.right else ""
            lines.append(f"     {LETTERS[at]}  {choice}{mark}")
        lines.append("")
    for name, cues, material in zip(names, films, materials, strict=False):
        lines += [f"What the film of {name} says" if len(names) > 1 else "What the film says", ""]
        lines += ["  film    in the world"]
        for cue in cues:
            when = _world(cue.step, pressed=bool(material.plan.triggers))
            lines.append(f"  {_minutes(cue.begin)}   {when}")
            lines.append(fill(cue.text, WIDTH, initial_indent="     ", subsequent_indent="     "))
        lines.append("")
    lines += [
        "Film time is when a caption comes while the film plays. The world stands still where there is more to read."
    ]
    return "\n".join(lines).rstrip() + "\n"


def _minutes(seconds: float) -> str:
    """Seconds as minutes and seconds.

    >>> _minutes(75), _minutes(4.6)
    ('1:15', '0:05')
    """
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02}"


def _world(step: int, *, pressed: bool) -> str:
    zero = "the press" if pressed else "the start"
    if step == 0:
        return f"at {zero}"
    return f"{duration_text(abs(step))} {'before' if step < 0 else 'after'} {zero}"


# --- the film --------------------------------------------------------------------------------------------------------


def cues_of(material: Material, run: Recording) -> list[Cue]:
    """What the film of a run says: the answer before the press, each reason at its moment, limits at the end."""
    from tickwright.publish.film import Cue

    end = run.trace.steps - 1 - (run.pressed_at_step or 0)
    cues = []
    for one in main_sentences(material):
        at = _MOMENTS.get(one.kind)
        if at is None:
            continue
        step = end if at == "end" or not one.steps else -10 if at == "before" else one.steps[0 if at == "first" else -1]
        cues.append(Cue(min(step, end), one.short, one.cells))
    return sorted(cues, key=lambda cue: cue.step)


_MOMENTS = {
    "answer": "before", "delay": "first", "ring": "first", "loss": "first", "levels": "first", "items": "first",
    "rounds": "first", "cause": "first", "handover": "last", "sum": "last", "for ever": "end", "clock": "first",
    "least": "end", "shorter": "end",
}  # fmt: skip


def film_speed(run: Recording) -> float:
    """How many times as fast as the world the film of a run is, so that nobody waits for minutes."""
    seconds = (run.trace.steps - (run.pressed_at_step or 0)) / STEPS_PER_SECOND
    return max(1.0, float(round(seconds / LONGEST_FILM_SECONDS)))


def filmed_run(material: Material) -> Recording | None:
    """The run that the lesson's film shows."""
    return _own(material)


# --- the PDF ---------------------------------------------------------------------------------------------------------


def slides_pdf(made: Sequence[Slide], title: str) -> bytes:
    """The slides as a PDF of wide pages, the same to the byte for the same slides."""
    import typst

    data = {
        "title": title,
        "colours": {
            role: THEMES["light"][role] for role in ("ink", "soft", "line", "accent", "good", "panel", "block")
        },
        "slides": [
            {
                "head": slide.head,
                "lines": list(slide.lines),
                "svg": svg_text(slide.picture) if slide.picture is not None else "",
                "alt": slide.picture.title if slide.picture is not None else "",
                "choices": list(slide.choices),
                "right": -1 if slide.right is None else slide.right,
            }
            for slide in made
        ],
        "foot": FULL_SPEED,
    }
    text = json.dumps(data, ensure_ascii=False)
    template = files("tickwright.publish").joinpath("templates", "lesson.typ").read_bytes()
    pdf = typst.compile(template, format="pdf", sys_inputs={"lesson": text}, font_paths=fonts(needs_other_fonts(text)))
    return bytes(pdf)
