"""Plans, rule sets and stimuli laid out as the library takes them."""

from __future__ import annotations

from array import array
from collections.abc import Container, Iterable, Mapping
from typing import Any

from tickwright.engine.native.library import ActRecord, PartRecord, RulesRecord, library
from tickwright.kinds import PARTS, Part
from tickwright.plan.cells import Cells, different_parts
from tickwright.plan.hand import Stimulus, default_act
from tickwright.rules import RuleSet
from tickwright.space import DIRECTIONS, Cell

ROLES = (
    "still", "lamp", "source", "wire", "repeater", "comparator", "torch", "lever", "button", "plate", "sensor",
    "piston", "hopper", "ejector", "crate",
)  # fmt: skip
VERBS = ("press", "flip", "on", "off", "drop", "take", "tread", "leave", "put", "place", "clear", "usual")
KINDS = tuple(PARTS)
MOST_PACKED = 32
_ROLE = {name: number for number, name in enumerate(ROLES)}
_VERB = {name: number for number, name in enumerate(VERBS)}
_KIND = {name: number for number, name in enumerate(KINDS)}
_FACING: dict[str | None, int] = {None: 6, **{name: number for number, name in enumerate(DIRECTIONS)}}
_SUPPORT: dict[str | None, int] = {None: 0, "below": 1, "facing": 2}
_FEELS = {"": 0, "anything": 3, "creatures": 2}


class Packed:
    """A rule set as the library takes it, and the rows of the parts packed under it so far."""

    def __init__(self, rules: RuleSet) -> None:
        self.rules = rules
        self.record = _rules_record(rules)
        self._rows: dict[Part, bytes] = {}

    def row(self, part: Part) -> bytes:
        """The row of a part."""
        if part not in self._rows:
            self._rows[part] = _part_row(part, self.rules)
        return self._rows[part]


_packed: dict[int, Packed] = {}


def packed(rules: RuleSet) -> Packed:
    """The rule set, packed once; a rule set cannot be hashed, but the last few are known again."""
    found = _packed.get(id(rules))
    if found is None or found.rules is not rules:
        if len(_packed) >= MOST_PACKED:
            _packed.clear()
        found = _packed[id(rules)] = Packed(rules)
    return found


def _rules_record(rules: RuleSet) -> Any:
    torch, comparator, repeater, piston = rules.torch, rules.comparator, rules.repeater, rules.piston
    return RulesRecord(
        top=rules.wire.top_level,
        full=rules.wire.top_level,
        loss=rules.wire.loss,
        through=rules.wire.pointing == "through",
        repeater_ahead=repeater.priority_ahead,
        repeater_off=repeater.priority_off,
        repeater_on=repeater.priority_on,
        comparator_ahead=comparator.priority_ahead,
        comparator_else=comparator.priority,
        burnout_count=torch.burnout_count,
        burnout_window=torch.burnout_window,
        burnout_rest=torch.burnout_rest,
        sensor_pulse=rules.sensor.pulse,
        hopper_cooldown=rules.hopper.cooldown,
        hopper_first_wait=rules.hopper.first_wait,
        item_rest=rules.item.rest,
        item_vanish=rules.item.vanish,
        push_limit=piston.push_limit,
        travel=piston.travel,
        hears_within=piston.hears_within,
        hears_above=piston.hears_above,
        fill_span=rules.fill_level("crate", rules.capacity("crate")) - 1,
    )


def _part_row(part: Part, rules: RuleSet) -> bytes:
    kind = PARTS[part.kind]
    role = kind.behaviour
    mode = capacity = 0
    if role == "still":
        mode = kind.shows_passed  # what does not, shows nothing even where it conducts
    elif role == "plate":
        mode = kind.shows_level
    elif role == "comparator":
        mode = part.mode == "difference"
    elif role == "lever":
        mode = part.thrown
    elif role == "piston":
        mode = kind.pulls
    elif kind.slots:
        capacity = rules.capacity(part.kind)
    record = PartRecord(
        role=_ROLE[role],
        kind=_KIND[part.kind],
        facing=_FACING[part.facing],
        support=_SUPPORT[kind.support],
        conducts=rules.conducts.get(part.kind, False),
        carries=rules.carries.get(part.kind, False),
        movable=rules.movable.get(part.kind, False),
        steps=rules.delay_steps(part),
        mode=mode,
        counts=part.counts,
        feels=_FEELS[kind.feels],
        items=part.items,
        capacity=capacity,
        act=_VERB[kind.acts[0]] if kind.acts else -1,
        acts=sum(1 << _VERB[act] for act in kind.acts),
    )
    return bytes(record)


class Palette:
    """The parts of a run, numbered as they come."""

    def __init__(self, rules: RuleSet) -> None:
        self.packed = packed(rules)
        self.codes: dict[Part, int] = {}

    def code(self, part: Part) -> int:
        """The number of a part."""
        return self.codes.setdefault(part, len(self.codes))

    def cells(self, cells: Mapping[Cell, Part]) -> array[int]:
        """x, y, z and the number of its part for each cell."""
        codes = self.codes
        if isinstance(cells, Cells) and cells.palette == tuple(codes)[: len(cells.palette)]:
            return _coded(cells)
        flat: list[int] = []
        for (x, y, z), part in cells.items():
            code = codes.get(part)
            flat += (x, y, z, self.code(part) if code is None else code)
        return array("i", flat)

    def take(self, cells: Mapping[Cell, Part]) -> None:
        """Number all parts that stand somewhere, in order; of cells kept as codes, as those go."""
        for part in cells.palette if isinstance(cells, Cells) else different_parts(cells):
            self.code(part)

    def records(self) -> Any:
        """The rows of all parts so far."""
        data = b"".join(map(self.packed.row, self.codes))
        return (PartRecord * len(self.codes)).from_buffer_copy(data) if data else (PartRecord * 1)()


def _coded(cells: Cells) -> array[int]:
    flat = array("i", bytes(16 * len(cells)))
    at, functions = 0, library()
    for z, text in enumerate(cells.texts()):
        data = text.encode("utf-16-le")
        at += functions.tw_layer(data, len(data) // 2, z, address(flat) + 16 * at, len(cells) - at)
    return flat


def probe_rows(watched: Iterable[Cell], of_part: Container[int] = ()) -> array[int]:
    """x, y, z of each watched cell, and 1 for those, by their places, that show whether a part stands there."""
    return array("i", [axis for place, cell in enumerate(watched) for axis in (*cell, place in of_part)])


def address(values: array[int]) -> int:
    """Where an array lies."""
    return values.buffer_info()[0]


def act_record(stimulus: Stimulus, press_steps: int, cells: Mapping[Cell, Part], code: int) -> Any:
    """One stimulus; the usual one is that of what the plan has there, should nothing be there that takes any.

    `press_steps` is how long a button stays pressed, 0 for its own time; `code` that of the part to be placed.
    """
    x, y, z = stimulus.cell
    here = cells.get(stimulus.cell)
    instead = (default_act(here.kind) if here else None) or "usual"
    return ActRecord(
        stimulus.step, x, y, z, _VERB[stimulus.verb], stimulus.number, code, _VERB[instead], press_steps
    )  # fmt: skip
