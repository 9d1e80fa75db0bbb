"""A rule set: all numbers and switches of the physics as data."""

from __future__ import annotations

from typing import Literal

import msgspec

from tickwright.kinds import PARTS, Part


class Section(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A table of a rule set file."""


class WireRules(Section, frozen=True):
    """Levels, loss, and which sides a wire points to."""

    top_level: int
    loss: int
    pointing: Literal["joined", "through"]


class RepeaterRules(Section, frozen=True):
    """Delay and the priorities of its schedule."""

    steps_per_delay: int
    priority_ahead: int
    priority_off: int
    priority_on: int


class ComparatorRules(Section, frozen=True):
    """Delay and priorities."""

    delay: int
    priority_ahead: int
    priority: int


class TorchRules(Section, frozen=True):
    """Delay and burn-out."""

    delay: int
    burnout_count: int
    burnout_window: int
    burnout_rest: int


class LampRules(Section, frozen=True):
    """How long a lamp glows on."""

    off_delay: int


class ButtonRules(Section, frozen=True):
    """How long each button stays pressed."""

    short: int
    long: int


class PlateRules(Section, frozen=True):
    """How often each plate looks again."""

    item_look: int
    tread_look: int
    counting_look: int


class SensorRules(Section, frozen=True):
    """Delay and length of a change-sensor's pulse."""

    delay: int
    pulse: int


class ContainerRules(Section, frozen=True):
    """Slots, and items in a slot."""

    slot_size: int
    hopper_slots: int
    ejector_slots: int
    crate_slots: int


class HopperRules(Section, frozen=True):
    """How often a hopper works."""

    cooldown: int
    first_wait: int


class EjectorRules(Section, frozen=True):
    """An ejector's delay."""

    delay: int


class ItemRules(Section, frozen=True):
    """How long items fall and lie."""

    rest: int
    vanish: int


class PistonRules(Section, frozen=True):
    """How far a piston pushes, how long it takes, what it is told of."""

    push_limit: int
    travel: int
    hears_within: int
    hears_above: bool


class RuleSet(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One set of rules. Delays are in steps; `conducts`, `carries` and `movable` hold the kinds of part that
    do or are.

    Source: common practice of the trade, written down from memory.
    """

    name: str
    title: str
    wire: WireRules
    repeater: RepeaterRules
    comparator: ComparatorRules
    torch: TorchRules
    lamp: LampRules
    button: ButtonRules
    plate: PlateRules
    sensor: SensorRules
    container: ContainerRules
    hopper: HopperRules
    ejector: EjectorRules
    item: ItemRules
    piston: PistonRules
    conducts: dict[str, bool]
    carries: dict[str, bool]
    movable: dict[str, bool]

    def value(self, name: str) -> int:
        """The number at a place of the file.

        >>> from tickwright.rules import load_rules
        >>> load_rules().value("lamp.off_delay")
        4
        """
        section, _, key = name.partition(".")
        return int(getattr(getattr(self, section), key))

    def delay_steps(self, part: Part) -> int:
        """From a part's schedule to its event, of a button from press to release, in steps; 0 if it schedules none."""
        name = PARTS[part.kind].delay
        return part.delay * self.value(name) if name else 0

    def capacity(self, kind: str) -> int:
        """How many items a container of this kind holds."""
        return self.value(PARTS[kind].slots) * self.container.slot_size

    def fill_level(self, kind: str, items: int) -> int:
        """The level a comparator reads off a container: 0 if empty, else floor(1 + 14 × items ÷ capacity)."""
        return 0 if items == 0 else 1 + 14 * items // self.capacity(kind)

    def look_every(self, kind: str) -> int:
        """Every how many steps a plate of this kind looks again while it is on."""
        return self.value(PARTS[kind].delay)

    def button_steps(self, kind: str) -> int:
        """How long a button of this kind stays pressed, in steps."""
        return self.value(PARTS[kind].delay)


def values_of(rules: RuleSet) -> dict[str, int | str | bool]:
    """Every value of a rule set by its place in the file, name and title left out: {"torch.delay": 2, ...}."""
    tables = {key: value for key, value in msgspec.to_builtins(rules).items() if isinstance(value, dict)}
    return {f"{table}.{key}": value for table, values in tables.items() for key, value in values.items()}
