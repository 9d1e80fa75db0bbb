"""Why an output holds: read against hand calculation, every figure derived again on the other engine."""

from __future__ import annotations

import json

import pytest

from rederiving import EXAMPLES, SHORT, disagreeing, varied
from tickwright import load, loads, why
from tickwright.diagnosis.reasons.sentences import LONGEST, Figure, Named
from tickwright.diagnosis.reasons.terms import Term, in_rounds
from tickwright.plan import place


def example(name: str):
    return load(EXAMPLES[0].parent / f"{name}.toml")


def texts(plan, kind: str, output: str, trigger: str | None = None) -> list[str]:
    return [one.text for one in why(plan, trigger, output).sentences if one.kind == kind]


@pytest.mark.parametrize("path", SHORT, ids=lambda path: path.stem)
def test_every_figure_is_derived_again_on_the_other_engine(path):
    explained = why(load(path))
    assert explained.sentences
    assert disagreeing(explained) == []


@pytest.mark.parametrize("path", SHORT, ids=lambda path: path.stem)
def test_every_sentence_can_be_read_at_a_glance(path):
    for sentence in why(load(path)).sentences:
        assert len(sentence.text) <= LONGEST, sentence.text
        assert sentence.text[0].isupper() or sentence.text[0].isdigit(), sentence.text
        assert sentence.text.endswith("."), sentence.text


# By hand: n comparators in a flat loop take n ticks a turn, which costs two levels, one in the wire at each end. After
# a press of 15 the first comparator has 13, then 11, ... 1: seven turns. In a stacked loop a turn costs one level: 14,
# 13, ... 1 are 14 turns. The press is 1 s, the lamp lets go 0.2 s late.
RINGS = {
    "flat-loop-2": ("Two", "0.2 s", "two levels", "seven", "2.6 s = 1 s (the press) + 1.4 s (seven turns)"),
    "flat-loop-4": ("Four", "0.4 s", "two levels", "seven", "4 s = 1 s (the press) + 2.8 s (seven turns)"),
    "flat-loop-6": ("Six", "0.6 s", "two levels", "seven", "5.4 s = 1 s (the press) + 4.2 s (seven turns)"),
    "flat-loop-8": ("Eight", "0.8 s", "two levels", "seven", "6.8 s = 1 s (the press) + 5.6 s (seven turns)"),
    "stacked-loop-3": ("Three", "0.3 s", "one level", "14", "5.4 s = 1 s (the press) + 4.2 s (14 turns)"),
    "stacked-loop-4": ("Four", "0.4 s", "one level", "14", "6.8 s = 1 s (the press) + 5.6 s (14 turns)"),
    "stacked-loop-5": ("Five", "0.5 s", "one level", "14", "8.2 s = 1 s (the press) + 7 s (14 turns)"),
}


@pytest.mark.parametrize("name", RINGS)
def test_a_ring_is_told_with_its_turn_its_loss_and_its_turns(name):
    number, turn, loss, turns, total = RINGS[name]
    plan = example(name)
    assert texts(plan, "ring", "lamp") == [f"{number} comparators feed one another in a ring; one turn takes {turn}."]
    assert texts(plan, "loss", "lamp")[0].startswith(f"A turn costs {loss}: ")
    assert texts(plan, "levels", "lamp")[0].endswith(f": {turns} turns.")
    assert texts(plan, "sum", "lamp") == [f"{total} + 0.2 s (the lamp)."]


def test_a_ring_that_is_charged_hands_over_and_tells_what_is_to_spare():
    # By hand: the repeater lets go 1.1 s after the press; the level is back after 0.1 s and six comparators, at 0.7 s.
    words = "The repeater lets go at 1.1 s; the sixth comparator has been on since 0.7 s: 0.4 s to spare."
    assert texts(example("flat-loop-6"), "handover", "entry") == [words]


def test_taps_are_told_as_a_long_way_less_a_short_one():
    # By hand: three four-tick repeaters are 1.2 s, the direct one 0.4 s; they overlap by 1.4 s - 1.2 s.
    plan = example("taps")
    assert texts(plan, "sum", "joined") == [
        "1.8 s = 1 s (the press) + 1.2 s (three repeaters) − 0.4 s (the first repeater)."
    ]
    assert ": 0.2 s to spare." in texts(plan, "handover", "joined")[0]
    assert all(
        text.startswith("One tick less at the ") and text.endswith("0.1 s shorter.")
        for text in texts(plan, "knob", "joined")
    )


def test_items_are_counted_and_timed():
    # By hand: 32 items, the last 8 x 31 steps after the first, a step after the flip: 249 steps, read 2 later.
    plan = example("drain-timer")
    assert texts(plan, "items", "lamp") == ["The first hopper gives away 32 items, one every 0.4 s."]
    assert texts(plan, "sum", "lamp") == ["12.65 s = 12.45 s (32 items) + 0.2 s (the lamp)."]


def test_what_is_for_ever_is_told_by_its_ring_or_its_lock():
    assert texts(example("older-wire-fade"), "for ever", "lamp") == [
        "Four comparators keep one another on in a ring: it loses nothing in a turn."
    ]
    assert texts(example("latch"), "for ever", "barrier", "set") == [
        "The first repeater is locked: it keeps what it shows."
    ]


def test_what_else_begins_it_is_told():
    # By hand: the lever of the drain timer holds its hopper locked until it is off; the latch's comparator hears the
    # repeater 0.1 s after the press and answers a tick later; the shuttle's sensor comes on a tick late.
    assert texts(example("drain-timer"), "cause", "lamp") == ["The lever goes off, and that unlocks the first hopper."]
    assert texts(example("latch"), "cause", "barrier", "set") == [
        "The comparator locks it from 0.2 s on, fed by the first repeater itself."
    ]
    assert texts(example("shuttle"), "cause", "bell") == ["The pull-piston pushes 0.1 s after it."]


def test_a_long_machine_is_told_in_halves():
    # By hand: with 6 items a way takes 8 x 5 = 40 steps; what is between takes 20 steps in all, as in the clock of 320
    # items, whose period is 2 x 8 x 319 + 20 = 5,124 steps. So 100 steps, 5 s.
    source = (EXAMPLES[0].parent / "hopper-clock.toml").read_text(encoding="utf-8").split("[[expect]]")[0]
    plan = loads(source.split("[[chart]]")[0].replace("items=320", "items=6"))
    told = why(plan, None, "back")
    assert [one.text for one in told.sentences if one.kind in ("clock", "rounds")] == [
        "It comes again every 5 s.",
        "5 s = 2.7 s (the first half) + 2.3 s (the second half).",
        "The first half takes 2.7 s: 2 s (six items) + 0.7 s (six parts).",
        "The second half takes 2.3 s: 2 s (six items) + 0.3 s (two parts).",
    ]
    assert disagreeing(told) == []


def test_what_repeats_is_told_as_rounds():
    def term(steps, words, *, folded=False):
        return Term(Figure(steps, "steps", ("length", steps)), (Named(words, ((steps, 0, 0),)),), folded=folded)

    once = [term(40, "five items", folded=True), term(2, "the comparator"), term(4, "the repeater")]
    outer, inner = in_rounds([term(20, "the press"), *once * 3, term(4, "the lamp")])
    assert [(one.said, one.figure.value) for one in outer] == [
        ("the press", 20), ("three rounds", 138), ("the lamp", 4),
    ]  # fmt: skip
    assert [(name, [one.said for one in some]) for name, some in inner] == [
        ("the last round", ["five items", "two parts"])
    ]
    assert in_rounds(once) == (once, [])


def test_what_goes_off_and_on_within_a_step_is_one_pulse():
    # By hand: the direct way of two ticks ends 20 + 4 steps after the press, the detour of twelve ticks begins 24
    # after it: off and on again in one step, which nobody sees.
    plan = example("taps")
    straight = next(cell for cell, part in plan.cells.items() if part.kind == "repeater" and cell[1] == 0)
    explained = why(place(plan, straight, plan.cells[straight]._replace(delay=2)), None, "joined")
    assert disagreeing(explained) == []
    assert explained.sentences[0].text == "One press turns joined on for 2 s, 0.2 s after it."


def test_a_clock_is_told_by_its_round():
    # A ring of three torches has a period of 2 x 3 ticks (T = 2 N t, the ring oscillator's formula).
    assert texts(example("torch-clock"), "clock", "beat")[0] == "It comes again every 0.6 s."


def test_a_shorter_press_is_told_from_a_run():
    assert texts(example("flat-loop-6"), "least", "entry") == ["A press must last 0.6 s at least."]
    assert texts(example("flat-loop-6"), "shorter", "lamp") == ["A press of 0.35 s gives eight pulses at lamp."]


def test_an_output_that_does_nothing_is_told_so():
    assert [one.text for one in why(example("latch"), "reset").sentences] == [
        "One press of reset changes nothing at the barrier: it stays off."
    ]


def test_what_one_tick_more_does_is_foretold_and_tried():
    # By hand: a repeater on both ways shifts the pulse and lengthens nothing: nothing is said of it. The chains of taps
    # foretell one tick for each repeater of the long way.
    assert texts(example("flat-loop-4"), "knob", "lamp") == []
    assert len(texts(example("taps"), "knob", "bell")) == 3


def test_plans_with_one_part_changed_have_no_wrong_figure():
    # `python dev.py rederive` does the same for a thousand plans.
    told = 0
    for explained in varied(20, 21):
        told += len(explained.sentences)
        assert disagreeing(explained) == [], explained.plan.title
        assert all(len(one.text) <= LONGEST for one in explained.sentences)
    assert told > 60


def test_the_command_prints_sentences_and_one_document(call):
    path = EXAMPLES[0].parent / "flat-loop-4.toml"
    code, out, _ = call("why", path, "--output", "lamp")
    assert code == 0
    assert out.startswith("press -> lamp\n  One press lights the lamp for 4 s, 0.1 s after it.\n")
    assert out.endswith("Times assume a world at its full 20 steps a second.\n")
    code, out, _ = call("why", path, "--output", "lamp", "--json")
    data = json.loads(out)
    assert (code, data["plan"]) == (0, str(path))
    first = data["sentences"][0]
    assert set(first) == {"kind", "output", "trigger", "text", "pieces", "steps", "weight", "short"}
    assert "".join(piece["text"] for piece in first["pieces"]).lower() == first["text"].lower()
    assert {
        "text": "4 s",
        "figure": {"value": 80, "unit": "steps", "of": ["span", [2, 0, 0], 0, [2, 0, 0], 1]},
    } in first["pieces"]
    assert any(piece.get("cells") == [[2, 0, 0]] for piece in first["pieces"])


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--trigger", "pres"], 'The plan has no trigger "pres". Did you mean "press"?'),
        (["--output", "lam"], 'The plan has no output "lam". Did you mean "lamp"?'),
    ],
)
def test_an_unknown_name_gets_one_message(call, words, message):
    code, out, err = call("why", EXAMPLES[0].parent / "flat-loop-4.toml", *words)
    assert (code, out, err.strip()) == (2, "", f"tickwright: {message}")


def test_a_plan_without_triggers_says_what_is_missing(call, tmp_path):
    path = tmp_path / "dark.toml"
    path.write_text(
        'format = "tickwright plan 1"\nlegend = {L = "lamp"}\nlayer = [{rows = "L"}]\noutputs = {lamp = [0, 0, 0]}\n'
    )
    code, _, err = call("why", path)
    assert (code, err.strip()) == (
        2, "tickwright: The plan names no trigger: add one under [triggers], such as trigger = [x, y, z]."
    )  # fmt: skip


def test_what_was_told_of_a_loaded_plan_is_told_of_the_same_text():
    plan = example("taps")
    assert why(plan).as_data() == why(loads(plan.source or "")).as_data()
