"""Rule sets: all numbers and switches of the physics as data, from TOML files."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any, Literal

import msgspec

from tickwright.errors import RuleSetError, near
from tickwright.parts import PARTS

BUILT_IN = ("standard", "older-wire")
_BIGGEST_FILE = 100_000
_STEPS = (1, 1_000_000)
_COUNT = (1, 10_000)


class _Section(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A table of a rule set file."""


class WireRules(_Section, frozen=True):
    """Levels, loss, and which sides a wire points to."""

    top_level: int
    loss: int
    pointing: Literal["joined", "through"]


class RepeaterRules(_Section, frozen=True):
    """Delay and the priorities of its schedule."""

    steps_per_delay: int
    priority_ahead: int
    priority_off: int
    priority_on: int


class ComparatorRules(_Section, frozen=True):
    """Delay and priorities."""

    delay: int
    priority_ahead: int
    priority: int


class TorchRules(_Section, frozen=True):
    """Delay and burn-out."""

    delay: int
    burnout_count: int
    burnout_window: int
    burnout_rest: int


class LampRules(_Section, frozen=True):
    """How long a lamp glows on."""

    off_delay: int


class ButtonRules(_Section, frozen=True):
    """How long each button stays pressed."""

    short: int
    long: int


class PlateRules(_Section, frozen=True):
    """How often each plate looks again."""

    item_look: int
    tread_look: int
    counting_look: int


class SensorRules(_Section, frozen=True):
    """Delay and length of a change-sensor's pulse."""

    delay: int
    pulse: int


class ContainerRules(_Section, frozen=True):
    """Slots, and items in a slot."""

    slot_size: int
    hopper_slots: int
    ejector_slots: int
    crate_slots: int


class HopperRules(_Section, frozen=True):
    """How often a hopper works."""

    cooldown: int
    first_wait: int


class EjectorRules(_Section, frozen=True):
    """An ejector's delay."""

    delay: int


class ItemRules(_Section, frozen=True):
    """How long items fall and lie."""

    rest: int
    vanish: int


class PistonRules(_Section, frozen=True):
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

    def capacity(self, kind: str) -> int:
        """How many items a container of this kind holds."""
        return int(getattr(self.container, f"{kind}_slots")) * self.container.slot_size

    def fill_level(self, kind: str, items: int) -> int:
        """The level a comparator reads off a container: 0 if empty, else floor(1 + 14 × items ÷ capacity)."""
        return 0 if items == 0 else 1 + 14 * items // self.capacity(kind)

    def look_every(self, kind: str) -> int:
        """Every how many steps a plate of this kind looks again while it is on."""
        return int(getattr(self.plate, f"{kind.removesuffix('-plate')}_look"))

    def button_steps(self, kind: str) -> int:
        """How long a button of this kind stays pressed, in steps."""
        return self.button.short if kind == "short-button" else self.button.long


def load_rules(name: str = "standard", folder: str | Path | None = None) -> RuleSet:
    """The rule set of that name, or of that TOML file (sought in `folder` first, the plan's own).

    Raises RuleSetError if there is none, or if a value is unknown, of the wrong type or out of range.

    >>> load_rules("older-wire").wire.pointing
    'through'
    """
    if name in BUILT_IN:
        return _built_in(name)
    return _checked(_user_data(name, folder, ()), name)


@cache
def _built_in(name: str) -> RuleSet:
    return _checked(_built_in_data(name), name)


def _built_in_data(name: str) -> dict[str, Any]:
    data = tomllib.loads((Path(__file__).parent / "data" / f"{name}.toml").read_text("utf-8"))
    base = data.pop("based_on", None)
    return _merged(_built_in_data(base), data) if base else data


def _user_data(name: str, folder: str | Path | None, seen: tuple[Path, ...]) -> dict[str, Any]:
    path = _find(name, folder)
    if path.resolve() in seen:
        raise RuleSetError(f'The rule set "{name}" is based on itself: based_on must lead to one of {_names()}.')
    try:
        if path.stat().st_size > _BIGGEST_FILE:
            raise RuleSetError(f'The rule set file "{path}" is over {_BIGGEST_FILE:,} bytes: it is not a rule set.')
        data = tomllib.loads(path.read_text("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise RuleSetError(f'The rule set file "{path}" cannot be read: {error}.') from None
    base = data.pop("based_on", None)
    if not isinstance(base, str):
        raise RuleSetError(
            f'The rule set file "{path}" says no based_on: write, say, based_on = "standard" at its top.'
        )
    under = _built_in_data(base) if base in BUILT_IN else _user_data(base, path.parent, (*seen, path.resolve()))
    data.setdefault("name", path.stem)
    return _merged(under, data)


def values_of(rules: RuleSet) -> dict[str, int | str | bool]:
    """Every value of a rule set by its place in the file, name and title left out: {"torch.delay": 2, ...}."""
    tables = {key: value for key, value in msgspec.to_builtins(rules).items() if isinstance(value, dict)}
    return {f"{table}.{key}": value for table, values in tables.items() for key, value in values.items()}


def _find(name: str, folder: str | Path | None) -> Path:
    tries = [Path(folder, name)] if folder is not None else []
    for path in (*tries, Path(name)):
        try:
            if path.is_file():
                return path
        except (OSError, ValueError):
            break
    raise RuleSetError(
        f'There is no rule set "{name}".{near(name, BUILT_IN)} It may also be a TOML file beside the plan.'
    )


def _names() -> str:
    return " or ".join(f'"{name}"' for name in BUILT_IN)


def _merged(under: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    result = dict(under)
    for key, value in over.items():
        old = result.get(key)
        result[key] = {**old, **value} if isinstance(old, dict) and isinstance(value, dict) else value
    return result


def _checked(data: dict[str, Any], name: str) -> RuleSet:
    where = f'In the rule set "{name}": '
    known = RuleSet.__struct_fields__
    for key, value in data.items():
        if key not in known:
            raise RuleSetError(f'{where}there is no "{key}".{near(key, known)}')
        if key in _KINDS and isinstance(value, dict):
            for kind in value:
                if kind not in PARTS:
                    raise RuleSetError(f'{where}[{key}] names the part "{kind}", which is none.{near(kind, PARTS)}')
        elif isinstance(value, dict):
            fields = tuple(_sections()[key].__struct_fields__) if key in _sections() else ()
            for entry in value:
                if fields and entry not in fields:
                    raise RuleSetError(f'{where}[{key}] has no "{entry}".{near(entry, fields)}')
    try:
        rules = msgspec.convert(data, RuleSet)
    except msgspec.ValidationError as error:
        raise RuleSetError(f"{where}{error}.") from None
    _check_ranges(rules, where)
    return rules


@cache
def _sections() -> dict[str, type[_Section]]:
    return {field.name: field.type for field in msgspec.structs.fields(RuleSet) if field.name not in _PLAIN}


_KINDS = ("conducts", "carries", "movable")
_PLAIN = ("name", "title", *_KINDS)


def _check_ranges(rules: RuleSet, where: str) -> None:
    for section in _sections():
        for key, value in msgspec.structs.asdict(getattr(rules, section)).items():
            if isinstance(value, bool | str):
                continue
            low, high = _range(section, key)
            if not low <= value <= high:
                raise RuleSetError(f"{where}{section}.{key} is {value}: it must be {low} to {high}.")

    if rules.item.vanish <= rules.item.rest:
        raise RuleSetError(
            f"{where}item.vanish is {rules.item.vanish}, item.rest {rules.item.rest}: a stack must rest before it "
            "vanishes."
        )


def _range(section: str, key: str) -> tuple[int, int]:
    if key.startswith("priority"):
        return (-100, 100)
    if section == "wire":
        return (1, 15)
    if section == "container" or key in ("burnout_count", "push_limit"):
        return _COUNT
    if key == "hears_within":
        return (1, 4)
    return _STEPS
