"""Kinds of part: one row each, from which all that lists, reads, runs, draws or explains parts derives.

Data flow: `kind` says what a row holds, `table` holds the rows, `part` reads and writes parts as placed. Imports the
leaves. What a behaviour does stands in the engines.
"""

from tickwright.kinds.kind import BEHAVIOURS, Argument, Behaviour, PartKind
from tickwright.kinds.part import (
    Part,
    a_kind,
    choices_text,
    many_of,
    mirrored,
    parse_part,
    part_text,
    signature,
    support_cell,
    turned,
)
from tickwright.kinds.table import (
    BUTTONS,
    CONTAINERS,
    HEARING,
    LAMPS,
    OPEN_CELL_ACTS,
    PARTS,
    PASSING,
    PISTONS,
    PLATES,
    STANDS,
    STILL,
    TAKES_HAND,
    is_a,
    kinds_with,
)

__all__ = [
    "BEHAVIOURS",
    "BUTTONS",
    "CONTAINERS",
    "HEARING",
    "LAMPS",
    "OPEN_CELL_ACTS",
    "PARTS",
    "PASSING",
    "PISTONS",
    "PLATES",
    "STANDS",
    "STILL",
    "TAKES_HAND",
    "Argument",
    "Behaviour",
    "Part",
    "PartKind",
    "a_kind",
    "choices_text",
    "is_a",
    "kinds_with",
    "many_of",
    "mirrored",
    "parse_part",
    "part_text",
    "signature",
    "support_cell",
    "turned",
]
