"""The settings that families are given, told in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tickwright.durations import duration_text

__all__ = ["settings_words"]


def settings_words(settings: Mapping[str, int | str]) -> list[str]:
    """The settings of a design in words.

    >>> settings_words({"items": 29, "delay ticks": 4, "ways": 1})
    ['29 items', 'repeaters of 4 ticks', 'on while the items go there']
    """
    return [_SETTINGS[name](value) if name in _SETTINGS else f"{name} {value}" for name, value in settings.items()]


def _counted(noun: str) -> Callable[[int | str], str]:
    return lambda value: f"{value} {noun}{'' if value == 1 else 's'}"


def _ticks_of(what: str) -> Callable[[int | str], str]:
    return lambda value: f"{what} of {value} {'tick' if value == 1 else 'ticks'}"


_WAYS = {1: "on while the items go there", 2: "on while the items go there and back"}
_HALVES = {
    "plain": "on for half of the period, and for what a lamp adds",
    "short": "its half period is cut short behind it",
    "taps": "its half period is made longer by a second way behind it",
}
_FRONTS = {
    "guard": "a guard lets no press in during the hold",
    "short": "the press is cut short first",
    "stretch": "the press is stretched by a repeater first",
    "taps": "the press is made longer by a second way first",
}
_SETTINGS: dict[str, Callable[[int | str], str]] = {
    "comparators": _counted("comparator"),
    "two-cell ends": lambda value: f"{value} of its two ends {'takes' if value == 1 else 'take'} a level",
    "items": _counted("item"),
    "items passed": lambda value: f"{value} {'item passes' if value == 1 else 'items pass'}",
    "copy ticks": lambda value: f"a copy of the pulse {value} {'tick' if value == 1 else 'ticks'} later keeps it on",
    "box": lambda value: f"in a box of {value} cells",
    "crate items": lambda value: f"{value} {'item' if value == 1 else 'items'} in the crate",
    "delay ticks": _ticks_of("repeaters"),
    "ways": lambda value: _WAYS[int(value)],
    "line ticks": _ticks_of("a line"),
    "lit steps": lambda value: f"the torch is lit for {duration_text(int(value))}",
    "repeater ticks": lambda value: _ticks_of("a repeater")(value) if value else "no repeater",
    "front": lambda value: _FRONTS.get(str(value), str(value)),
    "pulse steps": lambda value: f"a pulse of {duration_text(int(value))} goes in",
    "clock items": lambda value: f"{value} items in its clock",
    "clock gate ticks": _ticks_of("the clock's gate"),
    "clock release ticks": _ticks_of("the clock's release"),
    "clock ticks": _ticks_of("a torch and repeaters"),
    "laid": lambda value: f"laid {value}",
    "half period": lambda value: _HALVES.get(str(value), str(value)),
    "ticks behind": _ticks_of("repeaters behind it"),
    "torch behind": lambda _: "a torch behind it turns the output over",
    "press clears": lambda _: "each press first puts it out",
    "outputs": lambda value: f"composed of tiles for {value} outputs",
    "cells laid for wires": lambda value: f"{value} cells laid for wires to where it is entered and left",
}
