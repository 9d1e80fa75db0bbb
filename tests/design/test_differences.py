"""What tells two designs apart, in words: by hand for figures made up, and for designs that were run."""

from __future__ import annotations

from dataclasses import dataclass

from tickwright import choose
from tickwright.design import Wish, settings_words, tell_apart
from tickwright.design.catalogue import recipes
from tickwright.design.recipes import Goal

ASKED = (("short-button", 46), ("short-button", 240), ("lever", 240), ("short-button", 24_000), ("item-plate", 6_000))


def goal(trigger: str, hold: int) -> Goal:
    steps = {"short-button": 20, "lever": None, "item-plate": 6_000}[trigger]
    return Goal(hold, hold, hold, trigger, steps, ("lamp", "line"))


@dataclass(frozen=True)
class Row:
    hold_steps: int | None = 240
    error_steps: int | None = 0
    delay_steps: int | None = 0
    minimum_trigger_steps: int | None = 7
    recovery_steps: int | None = 0
    parts: int = 10
    price: float = 10.0
    box: tuple[int, int, int] = (4, 3, 2)


def test_each_figure_is_told_on_its_side():
    this = Row(delay_steps=2, minimum_trigger_steps=18, recovery_steps=100, parts=9, price=12.5, box=(4, 3, 3))
    told = tell_apart(this, Row(error_steps=-1))
    assert told.better == ("exactly the hold wished for", "1 part fewer")
    assert told.worse == (
        "2.5 dearer", "a box 12 cells larger", "1 layer higher", "a press must last 0.9 s (not 0.35 s)",
        "on 0.1 s later", "ready for the next press 5 s later",
    )  # fmt: skip


def test_the_other_way_round_says_the_reverse():
    small, large = Row(parts=8, price=8.0), Row(minimum_trigger_steps=4)
    assert tell_apart(small, large).text == "2 parts fewer, but a press must last 0.35 s (not 0.2 s)"
    assert tell_apart(large, small).text == "a press of 0.2 s is enough (not 0.35 s), but 2 parts more"


def test_what_is_not_known_of_both_and_what_is_equal_is_not_told():
    assert tell_apart(Row(recovery_steps=None), Row(recovery_steps=40)).text == "no difference in any figure"
    assert tell_apart(Row(parts=11, price=11.0), Row()).text == "nothing that is better; 1 part more"


def test_designs_and_their_settings_in_words():
    stacked, _, flat, _ = choose(Wish(108)).designs
    assert (stacked.family, flat.family) == ("stacked loop", "flat loop")
    assert tell_apart(stacked, flat).text == (
        "8 parts fewer, a box 4 cells smaller, and a press of 0.15 s is enough (not 0.4 s), but 2 layers higher"
    )
    assert settings_words(stacked.settings) == ["3 comparators", "1 of its two ends takes a level"]


def test_every_setting_of_every_family_has_words():
    names = {name for trigger, hold in ASKED for recipe in recipes(goal(trigger, hold)) for name in recipe.settings}
    assert len(names) > 8
    for name in names:
        (word,) = settings_words({name: 2})
        assert not word.startswith(f"{name} "), (name, word)
