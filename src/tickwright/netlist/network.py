"""The logic network: inputs, outputs, covers and latches, as a netlist says them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Cover:
    """A signal as a sum of products: it is `value` where one of `rows` holds, else the other.

    A row has a character for each of `inputs`: "0", "1", or "-" where it does not matter.
    """

    inputs: tuple[str, ...]
    rows: tuple[str, ...]
    value: bool
    line: int = 0

    def of(self, values: Mapping[str, int]) -> int:
        """The signal for these values of its inputs, each a bit vector: bit v is the value in case v (see `Network`).

        >>> Cover(("a", "b"), ("11",), True).of({"a": 0b1010, "b": 0b1100, "": 0b1111})
        8
        """
        every = values[""]
        found = 0
        for row in self.rows:
            product = every
            for name, wanted in zip(self.inputs, row, strict=True):
                if wanted == "1":
                    product &= values[name]
                elif wanted == "0":
                    product &= ~values[name]
            found |= product
        return (found if self.value else ~found) & every


@dataclass(frozen=True, slots=True)
class Latch:
    """A latch: `kind` is "re" or "fe" (takes its data at that edge of its clock) or "al" (open while it is 0)."""

    data: str
    output: str
    kind: str
    clock: str
    line: int = 0


@dataclass(frozen=True)
class Network:
    """A netlist: what each signal that is no input is made of, latches start at 0.

    `order` names the covers so that each comes after those it hears.
    """

    model: str
    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    covers: Mapping[str, Cover]
    latches: tuple[Latch, ...] = ()
    order: tuple[str, ...] = field(default=())

    def values(self, given: Mapping[str, int], cases: int) -> dict[str, int]:
        """Every signal in `cases` cases at once; `given` has the inputs and latches as bit vectors, bit v for case v.

        >>> one = Network("m", ("a",), ("y",), {"y": Cover(("a",), ("0",), True)}, order=("y",))
        >>> bin(one.values({"a": 0b01}, 2)["y"])
        '0b10'
        """
        found = {"": (1 << cases) - 1, **given}
        for name in self.order:
            found[name] = self.covers[name].of(found)
        return found
