"""The conversation of `diagnose --ask`: planted mistakes are found, answers may be wrong, taken back, unknown."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from planting import Planted, circuits, converse, planted
from tickwright import load, loads
from tickwright.diagnosis import Conversation
from tickwright.diagnosis.asking import shown
from tickwright.diagnosis.asking.conversation import NAMING
from tickwright.diagnosis.asking.questions import (
    BEFORE,
    ROW_SEEN,
    Behaviour,
    Question,
    _behaviour,
    alike,
    bits,
    look_questions,
)
from tickwright.diagnosis.asking.universe import Suspect, can_stand, suspects_of
from tickwright.errors import UsageError
from tickwright.kinds import Part, parse_part
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

ROOT = Path(__file__).resolve().parents[2]
LOOP = ROOT / "examples" / "flat-loop-6.toml"
ROW = loads(
    """format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", w = "wire", r = "repeater east delay=2", c = "comparator east", L = "lamp"}
layer = [{rows = "#####"}, {rows = "bwrcL"}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [4, 0, 1]}
"""
)  # delay 6 steps, hold 24


def test_a_share_of_planted_mistakes_is_found_within_four_questions():
    # The whole, 200 of them, is `python dev.py plant`; docs/diagnose.md has the figures.
    told = [converse(build, str(number)) for number, build in enumerate(planted(11, "a share of them"))]
    assert sum(one.place[3] for one in told) >= 9
    assert sum(one.exact[3] for one in told) >= 9
    assert sum(one.first_right <= 2 for one in told) >= 6


def test_the_planter_plants_only_what_stands_and_is_noticed():
    builds = planted(6, "other ones")
    assert len({one.name for one in builds}) == 6
    assert all(one.changes or one.rate != 20 for one in builds)
    assert builds[0].name in circuits()


def test_nothing_is_done_before_a_look_has_confirmed_it():
    talk = Conversation(ROW)
    talk.ask("stands", (2, 0, 1))
    assert not talk.round.done
    talk.answer("repeater east delay=4")
    assert talk.round.done
    assert [one.text for one in talk.round.leading[0].mistakes] == [
        "the repeater at (2, 0, 1) has 4 ticks instead of 2 ticks"
    ]
    assert talk.round.question is not None
    assert "press again" in talk.round.question


def test_after_mending_it_is_over_or_goes_on_with_what_else_is_wrong():
    talk = Conversation(ROW)
    talk.ask("stands", (2, 0, 1))
    talk.answer("repeater east delay=4")
    found = talk.round
    talk.answer("no")
    talk.answer("back")  # it was mended well after all, or is asked about anew
    assert talk.round == found
    talk.answer("no")
    assert not talk.round.done
    assert all(one.cell != (2, 0, 1) for lead in talk.round.leading[:1] for one in lead.mistakes)
    talk.ask("stands", (0, 0, 1))
    talk.answer("long-button")
    assert talk.round.done
    talk.answer("yes")
    assert (talk.round.question, talk.round.done) == (None, True)


def test_an_answer_that_does_not_fit_strikes_nothing_out_and_can_be_taken_back():
    talk = Conversation(ROW)
    talk._set(Question("row", cells=tuple((x, 0, 1) for x in range(5))))
    first = talk.round
    before = talk.chances()
    talk.answer("no")
    assert min(talk.chances()) > 0
    assert talk.chances() != before
    talk.answer("back")
    assert talk.chances() == pytest.approx(before)
    assert (talk.round.question, talk.round.answers) == (first.question, first.answers)
    with pytest.raises(UsageError, match="no answer to take back"):
        talk.answer("back")


def test_what_is_not_known_tells_nothing_and_is_not_asked_again():
    talk = Conversation(ROW)
    before, asked = talk.chances(), talk.round.question
    talk.answer("don't know")
    assert talk.chances() == pytest.approx(before)
    assert talk.round.question != asked


def test_of_a_row_one_may_name_what_is_otherwise():
    talk = Conversation(ROW)
    row = Question("row", cells=tuple((x, 0, 1) for x in range(5)))
    talk._set(row)
    assert "1,0,1 nothing" in talk.round.answers
    assert "If not, name each cell" in (talk.round.question or "")
    for said in ("9,9,9 wire", "1,0,1", "perhaps"):
        with pytest.raises(UsageError):
            talk.answer(said)
    talk.answer("2,0,1 repeater east delay=4")
    assert talk.round.done
    assert talk.round.leading[0].mistakes[0].changes == (((2, 0, 1), parse_part("repeater east delay=4")),)
    talk.answer("back")
    talk.answer("1,0,1 repeater east delay=2, 2,0,1 wire")  # both are named: it is their swap, not one of them
    assert [one.kind for one in talk.round.leading[0].mistakes] == ["swapped"]


def test_who_only_says_no_of_a_row_is_asked_of_rows_as_one_that_is_only_told_right_or_wrong():
    talk = Conversation(ROW)
    row = Question("row", cells=tuple((x, 0, 1) for x in range(5)))
    weighed = dict(enumerate(talk.chances()))
    named, told = (look_questions(talk.asked, weighed, share)[row] for share in (1.0, 0.0))
    assert told <= ROW_SEEN < named  # right or wrong is one bit at most
    assert talk._naming() == NAMING
    talk._set(row)
    talk.answer("no")
    assert talk._naming() == 0
    talk._set(row)
    talk.answer("2,0,1 repeater east delay=4")
    assert talk._naming() == 1


def test_a_swap_is_found_only_once_both_cells_were_seen():
    talk = Conversation(ROW)
    talk.ask("stands", (2, 0, 1))
    talk.answer("comparator east")
    assert not talk.round.done
    assert talk.question == Question("stands", cells=(((3, 0, 1),)))
    talk.answer("as planned")
    assert talk.round.leading[0].mistakes[0].changes == (((2, 0, 1), parse_part("comparator east")),)


def test_where_only_the_part_is_open_it_is_looked_at():
    talk = Conversation(ROW)
    here = [number for number, one in enumerate(talk.suspects) if set(one.changes) == {(4, 0, 1)}]
    assert len(here) > 5
    for number, weight in enumerate(talk.weights):
        talk.weights[number] = 1.0 if number in here else weight / 1_000
    assert talk._next() == Question("stands", cells=((4, 0, 1),))


def test_a_part_that_was_thought_of_in_no_universe_is_taken_from_the_answer():
    talk = Conversation(ROW)
    strange = Part("repeater", "north", delay=3)  # turned and on another delay: two slips on one part
    assert all(one.changes != {(2, 0, 1): strange} for one in talk.suspects)
    talk.ask("stands", (2, 0, 1))
    talk.answer(str(strange))
    assert talk.round.leading[0].mistakes[0].changes == (((2, 0, 1), strange),)


def test_two_mistakes_are_thought_of_once_no_single_one_fits():
    talk = Conversation(ROW)
    assert all(len(one.mistakes) < 2 for one in talk.suspects)
    both = Planted("row", ROW, {(2, 0, 1): parse_part("repeater east delay=4"), (0, 0, 1): parse_part("long-button")})
    told = converse(both, "both", most=6)
    assert told.exact[-1] or told.place[-1]
    for text in ("on for 1.7 s", "never on"):  # a hold of a long button, then what no single mistake does with it
        talk._set(Question("times", 0, 0, (), "lamp"))
        talk.answer(text)
    assert any(len(one.mistakes) == 2 for one in talk.suspects)


def test_a_count_is_solved_from_the_hold():
    plan = next(plan for name, plan in circuits().items() if name.startswith("hopper timer, 7 s, 20"))
    talk = Conversation(plan)
    cell, part = next((cell, part) for cell, part in plan.cells.items() if part.items)
    assert all(one.changes != {cell: part._replace(items=part.items + 6)} for one in talk.suspects)
    talk._set(Question("times", 0, 0, (), "lamp"))
    talk.answer("on for 9.4 s")  # six items more, 0.4 s each
    assert any(one.changes == {cell: part._replace(items=part.items + 6)} for one in talk.suspects)


def test_both_engines_show_the_same():
    plan = replace(ROW)
    suspects = suspects_of(Setup(plan, load_rules()), thorough=False)[:40]
    suspects.append(Suspect((), 1.0, {(4, 0, 1): None}, {}))  # the very lamp that is watched is missing
    script = shown.first_scripts(plan)[0]
    fast, plain = shown.Stage(plan, load_rules()), shown.Stage(plan, load_rules())
    fast.add_script(script, suspects, range(41))
    for number, one in enumerate(suspects):
        log = plain._plain(one, script, shown.PRESS_STEP + fast.horizons[0] + 1)
        mine, its = plain._read(one, log, keep_levels=False), fast.shown[0][number]
        assert its is not None
        steps = range(shown.PRESS_STEP + fast.horizons[0])
        assert [mine.at(step) for step in steps] == [its.at(step) for step in steps], one


def test_every_suspect_can_stand_and_those_of_a_moved_row_are_among_them():
    plan, rules = load(LOOP), load_rules()
    setup = Setup(plan, rules)
    suspects = suspects_of(setup)
    assert all(can_stand(setup, tuple(one.changes.items()), one.moved) for one in suspects)
    kinds = {one.mistakes[0].kind for one in suspects if one.mistakes}
    assert kinds >= {"half-moved", "row-turned", "swapped", "alike-part", "other-part", "extra-part", "slow-world"}
    assert suspects[0].mistakes == ()
    wide = replace(ROW, cells={**ROW.cells, (-1 + 6, 0, 0): Part("block"), (-1, 0, 0): Part("block")})
    moved = [one.text for found in suspects_of(Setup(wide, rules)) for one in found.mistakes if one.kind == "row-moved"]
    assert "the row y = 0 of layer 1 is laid one cell too far east" in moved


@pytest.mark.parametrize(
    ("before", "edges", "seen"),
    [
        (False, [], Behaviour("never on")),
        (True, [], Behaviour("on all the time")),
        (False, [402, 426], Behaviour("pulses", 24, 1)),
        (False, [402, 410, 420, 430], Behaviour("pulses", 28, 2)),
        (False, [402], Behaviour("stays on")),
        (True, [402, 440], Behaviour("goes off", 38, 1)),
        (False, [*range(402, 1190, 10)], Behaviour("pulses for ever")),
    ],
)
def test_what_an_output_does_is_read_off_its_edges(before, edges, seen):
    assert _behaviour(before, edges, 1.0, 1200) == seen


def test_a_stopwatch_in_a_hand_is_believed_to_a_fifth_of_a_second():
    seen = Behaviour("pulses", 86, 1)
    assert alike(seen, Behaviour("pulses", 90))
    assert not alike(seen, Behaviour("pulses", 91))
    assert not alike(seen, Behaviour("pulses", 86, 2))
    assert not alike(seen, Behaviour("never on"))


def test_bits_are_those_of_the_textbook():
    # Four answers alike tell 2 bits, one certain answer none: the definition of information, by hand.
    assert (bits([1, 1, 1, 1]), bits([5])) == (2, 0)


def test_the_command_gives_all_rounds_as_json(call):
    code, out, _ = call("diagnose", LOOP, "--ask", "--json", "--answer", "none", "--answer", "back")
    found = json.loads(out)
    assert code == 0
    assert [set(one) for one in found["rounds"]] == [{"question", "answers", "leading", "done"}] * 3
    assert all(set(lead) == {"mistakes", "chance"} for one in found["rounds"] for lead in one["leading"])
    assert found["rounds"][0]["question"] == found["rounds"][2]["question"]
    assert found["next"]["kind"] == "lit"
    assert all(isinstance(text, str) for one in found["rounds"] for text in one["answers"])


def test_answers_given_as_letters_and_cells_mean_the_same(call):
    said = [call("diagnose", LOOP, "--ask", "--json", "--answer", answer)[1] for answer in ("ab", "2,0,0 0,0,1")]
    rounds = [json.loads(out)["rounds"][1] for out in said]
    assert rounds[0] == rounds[1]


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (["--ask", "--answer", "perhaps"], "Answer 1"),
        (["--ask", "--answer", "9,9,9"], "not among the cells"),
        (["--answer", "none"], "--answer goes with --ask"),
        (["--ask", "--what-if"], "--ask goes alone"),
    ],
)
def test_what_cannot_be_taken_is_refused_with_one_message(call, words, complaint):
    code, _, err = call("diagnose", LOOP, *words)
    assert code == 2
    assert complaint in err


def test_it_is_asked_in_words_and_drawn(call):
    code, out, _ = call("diagnose", LOOP, "--ask")
    assert code == 0
    assert "which of these are lit?" in out
    assert "bcdefgh" in out
    assert "Likeliest so far" in out


def test_a_look_before_the_first_act_is_said_so():
    talk = Conversation(ROW)
    question = Question("lit", 0, BEFORE, ((1, 0, 1),))
    talk._set(question)
    assert (talk.round.question or "").startswith("Before you do anything")
