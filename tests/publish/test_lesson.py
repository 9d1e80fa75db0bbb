"""A lesson: captions that can be read in the time they stand, questions whose answers are runs, slides, an outline."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tickwright import load, measure, why
from tickwright.diagnosis import contrast
from tickwright.material import gather_material
from tickwright.publish.film.clock import schedule
from tickwright.publish.film.spoken import Cue, scenes, spoken_film
from tickwright.publish.lesson import cues_of, filmed_run, outline_text, slides, slides_pdf
from tickwright.publish.quiz import quiz
from tickwright.publish.sheet import lesson_files

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


def example(name):
    return load(EXAMPLES / f"{name}.toml")


@pytest.fixture(scope="module", name="loops")
def loops_fixture():
    return [gather_material(example(name), reasons=True) for name in ("flat-loop-4", "stacked-loop-3")]


def readable(film):
    """Seventeen characters a second at most, and never less than 1.2 s (common practice of subtitling, no source)."""
    for cue in film.captions:
        assert len(cue.lines) == 1
        assert cue.end - cue.begin >= max(1.2, len(cue.text) / 17) - 1e-6, cue
    for one, other in zip(film.captions, film.captions[1:], strict=False):
        assert one.end == other.begin  # one at a time


def test_the_captions_of_a_film_can_be_read_while_they_stand(loops):
    run = filmed_run(loops[0])
    cues = cues_of(loops[0], run)
    film = spoken_film(run, cues)
    readable(film)
    assert film.flashing.safe
    assert [cue.text for cue in film.captions] == [cue.text for cue in cues]
    assert film.captions[0].text == "One press lights the lamp for 4 s, 0.1 s after it."
    # The world's time goes on: each caption is told at its moment, or the world waits there.
    assert [cue.step for cue in film.captions] == sorted(cue.step for cue in cues)
    assert abs(sum(shot.seconds for shot in film.shots) - film.clock.seconds) < 0.01
    # By hand: the repeater lets go 1.1 s, or 22 steps, after the press.
    assert next(cue.step for cue in film.captions if "lets go at 1.1 s" in cue.text) == 22


def test_the_world_waits_where_there_is_more_to_read(loops):
    run = filmed_run(loops[0])
    plain = schedule([run], 1.0, 1.0)
    text = "x" * 170  # ten seconds
    made, clock = scenes(plain, [Cue(0, text), Cue(0, "short"), Cue(20, "more")])
    begins = {scene.cue: scene.begin for scene in reversed(made) if scene.cue is not None}
    # By hand: the first stands ten seconds in which nothing moves, then the second and one second of the world.
    assert begins[1] - begins[0] == pytest.approx(10)
    assert begins[2] - begins[1] == pytest.approx(1.2)
    assert clock.at(20) - clock.at(0) == pytest.approx(11.2)
    assert [scene.still for scene in made if scene.cue == 0] == [True]


# By hand: flat loop of four holds 4 s (see its file); a press of 0.15 s, one step short of 0.2 s, makes eight pulses
# (examples.md); a loop is charged anew by any press, so a second one extends it.
def test_three_questions_have_answers_by_hand(loops):
    asked = quiz(loops[0])
    assert [one.choices[one.right] for one in asked] == ["4 s", "8 pulses", "it holds longer"]
    for one in asked:
        assert len(set(one.choices)) == len(one.choices) >= 3
        assert one.text.endswith("?")


@pytest.mark.parametrize("name", ["taps", "latch", "two-keys"])
def test_what_is_asked_of_other_circuits_is_answered_by_their_runs(name):
    plan = example(name)
    asked = quiz(gather_material(plan, reasons=True))
    assert asked or all(one.kind == "none" for one in measure(plan))
    for one in asked:
        assert 0 <= one.right < len(one.choices)
        hold = re.search(r'"(\w+)" once. For how long is "([\w-]+)"', one.text)
        if hold:
            found = measure(plan, hold[1], hold[2])[0]
            seconds = f"{found.hold_steps / 20:g} s"
            assert one.choices[one.right] == seconds


def test_the_outline_tells_minutes_and_both_clocks(loops):
    run = filmed_run(loops[0])
    film = spoken_film(run, cues_of(loops[0], run)[:2])
    text = outline_text(loops[:1], [film.captions], [film.clock.seconds])
    assert text.startswith("Lesson: Gangway lamp, flat loop of four\n")
    assert re.search(r"About \d+ minutes, at 130 words a minute", text)
    assert re.search(
        r"\n  0:\d\d   0\.1 s after the press\n     The repeater takes all of the 0\.1 s before it\.", text
    )
    assert "<- right" in text
    assert all(len(line) <= 110 for line in text.splitlines())


def test_two_designs_are_told_apart_by_both_runs():
    # By hand: seven turns of four ticks at two levels a turn against fourteen of three ticks at one.
    flat, stacked = (why(example(name)) for name in ("flat-loop-4", "stacked-loop-3"))
    assert contrast(flat, stacked, ("the flat one", "the stacked one")) == (
        "The flat one holds 4 s, the stacked one 5.4 s.",
        "The flat one makes 7 turns of 0.4 s, the stacked one 14 of 0.3 s.",
        "A turn costs 2 levels in the flat one, 1 in the stacked one.",
        "The flat one needs a press of 0.2 s at least, the stacked one of 0.15 s.",
        "When one source lets go, the next has been on for 0.6 s in the flat one, for 0.7 s in the stacked one.",
    )
    drain = why(example("drain-timer"))
    assert (
        contrast(flat, drain)[1]
        == "The first holds by 7 turns of 0.4 s round a ring, the second by 32 items, one every 0.4 s."
    )
    assert contrast(flat, flat)[1] == "The rings are alike: 7 turns of 0.4 s."


def test_slides_are_a_pdf_that_is_the_same_each_time(loops):
    made = slides(loops)
    heads = [slide.head for slide in made]
    assert heads[0] == "A lesson"
    assert heads.count("What goes round") == 2
    assert "One against the other" in heads
    told = [line for slide in made if slide.head == "One against the other" for line in slide.lines]
    assert any(one.startswith("The stacked loop of three against the flat loop of four: 1 part fewer") for one in told)
    questions = [f"{what} {number}" for number in (1, 2, 3) for what in ("Question", "Answer")]
    assert heads[-7:] == [*questions, "Before you show it"]
    for slide in made:
        assert len(slide.lines) <= 3 or slide.choices
        if slide.head.startswith("Question"):
            assert slide.right is None
    pdf = slides_pdf(made, "A lesson")
    assert pdf.startswith(b"%PDF")
    assert pdf == slides_pdf(made, "A lesson")


def test_the_files_of_a_lesson_are_known_beforehand(monkeypatch):
    assert [file.name for file in lesson_files(1)][:3] == ["lesson.pdf", "lesson.txt", "lesson.mp4"]
    assert [file.name for file in lesson_files(2)][2:] == [
        f"lesson-{number}.{suffix}" for number in (1, 2) for suffix in ("mp4", "vtt", "srt")
    ]
    monkeypatch.setattr("tickwright.publish.sheet.without_extra", lambda _: "no film")
    assert [file.name for file in lesson_files(2)] == ["lesson.pdf", "lesson.txt"]


def test_the_command_makes_a_lesson(call, tmp_path):
    plan = tmp_path / "bell.toml"
    plan.write_text(
        """format = "tickwright plan 1"
title = "Bell"
legend = {"#" = "block", b = "short-button", r = "repeater east delay=2", L = "lamp"}
layer = [{rows = "###"}, {rows = "brL"}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [2, 0, 1]}
""",
        encoding="utf-8",
    )
    code, _, err = call("sheet", plan, "--lesson", "-o", tmp_path / "out")
    assert (code, err) == (0, "")
    assert (tmp_path / "out/lesson.pdf").read_bytes().startswith(b"%PDF")
    # By hand: two ticks later the lamp is on, for the press of 1 s and the lamp's own 0.2 s.
    assert "1.2 s = 1 s (the press) + 0.2 s (the lamp)." in (tmp_path / "out/lesson.txt").read_text(encoding="utf-8")
    assert (tmp_path / "out/lesson.vtt").read_text(encoding="utf-8").startswith("WEBVTT\n")
