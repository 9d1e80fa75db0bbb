"""Which designs no other beats, on designs made up for it."""

from __future__ import annotations

from dataclasses import replace

from tickwright import Wish, choose
from tickwright.design.choosing import unbeaten

BASE = choose(Wish(hold_steps=24)).designs[0]


def design(name: str, error: int, parts: int, price: int):
    return replace(BASE, family=name, error_steps=error, parts=parts, price=price, recovery_steps=0)


def names(*designs):
    return [one.family for one in unbeaten(designs)]


def test_of_two_alike_in_everything_the_first_is_kept():
    assert names(design("a", 0, 5, 5), design("b", 0, 5, 5)) == ["a"]
    assert names(design("b", 0, 5, 5), design("a", 0, 5, 5), design("c", 0, 5, 5)) == ["b"]


def test_one_that_is_worse_in_one_thing_and_better_in_none_goes():
    assert names(design("a", 0, 6, 5), design("b", 0, 5, 5)) == ["b"]


def test_one_that_is_better_in_one_thing_stays():
    assert names(design("a", 0, 6, 4), design("b", 0, 5, 5)) == ["b", "a"]


def test_too_short_counts_as_too_long_does():
    assert names(design("a", -2, 5, 5), design("b", 1, 5, 5)) == ["b"]
