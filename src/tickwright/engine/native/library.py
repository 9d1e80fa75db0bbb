"""The compiled library: where it lies, its records as ctypes, and what its functions take."""

from __future__ import annotations

import ctypes
import os
import sys
import weakref
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from tickwright.errors import UsageError

VERSION = 8
DONE, MORE, NO_MEMORY, BAD_CELL, NOT_STATIC = 0, 1, -1, -4, -5
WALK_LIMIT, WALK_FAULT, WALK_ASKS = 3, 4, 6
LIBRARY_VARIABLE = "TICKWRIGHT_LIBRARY"  # names another library to load, one built with sanitizers say
SUFFIX = {"win32": ".dll", "darwin": ".dylib"}.get(sys.platform, ".so")

_I32, _I64 = ctypes.c_int32, ctypes.c_int64


def _record(name: str, fields: str, kinds: dict[str, Any] | None = None) -> type[ctypes.Structure]:
    kinds = kinds or {}
    rows = [(field, kinds.get(field, _I32)) for field in fields.split()]
    return type(name, (ctypes.Structure,), {"_fields_": rows})


PartRecord = _record(
    "PartRecord",
    "role kind facing support conducts carries movable steps mode counts feels items capacity act acts",
)
RulesRecord = _record(
    "RulesRecord",
    "top full loss through repeater_ahead repeater_off repeater_on comparator_ahead comparator_else "
    "burnout_count burnout_window burnout_rest sensor_pulse hopper_cooldown "
    "hopper_first_wait item_rest item_vanish push_limit travel hears_within hears_above fill_span",
)
ActRecord = _record("ActRecord", "step x y z verb number code instead length", {"step": _I64})
NoteRecord = _record("NoteRecord", "step code verb x y z kind x2 y2 z2 kind2 number unused", {"step": _I64})
ChangeRecord = _record("ChangeRecord", "step probe value", {"step": _I64})
SummaryRecord = _record(
    "SummaryRecord",
    "first_on last_off pulses changes highest last",
    dict.fromkeys(("first_on", "last_off", "pulses", "changes"), _I64),
)
LayoutRecord = _record(
    "LayoutRecord",
    "cells cells_n probes probes_n rules order shuffle",
    {**dict.fromkeys(("cells", "cells_n", "probes", "probes_n"), _I64), "shuffle": ctypes.c_void_p},
)
JobRecord = _record(
    "JobRecord", "layout acts acts_n summaries", dict.fromkeys(("layout", "acts", "acts_n", "summaries"), _I64)
)
EndingRecord = _record("EndingRecord", "last_step events at_rest status", {"last_step": _I64, "events": _I64})
_HANDED = "rules palette cells probes layouts acts jobs summaries endings"
_NUMBERS = "rules_n palette_n cells_n probes_n layouts_n acts_n jobs_n summaries_n"
BatchRecord = _record(
    "BatchRecord",
    f"{_HANDED} {_NUMBERS}",
    {**dict.fromkeys(_HANDED.split(), ctypes.c_void_p), **dict.fromkeys(_NUMBERS.split(), _I64)},
)
LimitRecord = _record("LimitRecord", "output within at_least at_most lowest never")
_LONGS = "button_n lever_n palette_n start steps budget"
LayoutsRecord = _record(
    "LayoutsRecord",
    f"rules palette images button lever {_LONGS} nx ny nz symmetries_n",
    {
        **dict.fromkeys("rules palette images button lever".split(), ctypes.c_void_p),
        **dict.fromkeys(_LONGS.split(), _I64),
    },
)
_ANNEALED = "shapes ports net_ends pins own_ends own_nets way_ends ways fixed reach taken at way state"
_ANNEAL_NUMBERS = "instances_n nets_n pins_n ports_n own_n ways_n taken_n"
AnnealRecord = _record(
    "AnnealRecord",
    f"{_ANNEALED} {_ANNEAL_NUMBERS} hot cold overlap wide deep far",
    {
        **dict.fromkeys(_ANNEALED.split(), ctypes.c_void_p),
        **dict.fromkeys(_ANNEAL_NUMBERS.split(), _I64),
        **dict.fromkeys(("hot", "cold", "overlap"), ctypes.c_double),
    },
)
RECORDS = (
    PartRecord, RulesRecord, ActRecord, NoteRecord, ChangeRecord, SummaryRecord, LayoutRecord, JobRecord, EndingRecord,
    BatchRecord, LimitRecord, LayoutsRecord, AnnealRecord,
)  # fmt: skip
SHUFFLE = ctypes.CFUNCTYPE(ctypes.c_uint32, _I32, _I32, _I32)

_P = ctypes.c_void_p
_FUNCTIONS: dict[str, tuple[Any, tuple[Any, ...]]] = {
    "tw_version": (_I32, ()),
    "tw_size": (_I32, (_I32,)),
    "tw_new": (_P, ()),
    "tw_free": (None, (_P,)),
    "tw_build": (_I32, (_P, _P, _P, _I64, _P, _I64, _P, _I64, _I32, _P)),
    "tw_layer": (_I64, (ctypes.c_char_p, _I64, _I32, _P, _I64)),
    "tw_script": (_I32, (_P, _P, _I64)),
    "tw_log": (_I32, (_P, _I32)),
    "tw_advance": (_I32, (_P, _I64, _I64)),
    "tw_step": (_I32, (_P, _I64)),
    "tw_do": (_I32, (_P, _P)),
    "tw_next": (_I64, (_P,)),
    "tw_now": (_I64, (_P,)),
    "tw_events": (_I64, (_P,)),
    "tw_values": (_I32, (_P, _P, _I64)),
    "tw_summaries": (_I32, (_P, _P, _I64)),
    "tw_notes": (_I64, (_P, _P, _I64)),
    "tw_changes": (_I64, (_P, _P, _I64)),
    "tw_copy": (_I32, (_P, _P)),
    "tw_graph_new": (_P, (_P, _I64, _P, _I64, _P, _I64, _P, _I64, _P)),
    "tw_graph_free": (None, (_P,)),
    "tw_graph_states": (_I64, (_P,)),
    "tw_graph_explore": (_I32, (_P, _I64, _I64)),
    "tw_graph_read": (_I32, (_P, _I64, _I64, _P, _P, _P)),
    "tw_graph_forget": (_I32, (_P,)),
    "tw_graph_crowded": (_I32, (_P,)),
    "tw_graph_edges": (_I64, (_P,)),
    "tw_graph_futures": (_I32, (_P, _P, _I64)),
    "tw_product_new": (_P, (_P, _P, _I64, _I32, _I32, _P)),
    "tw_product_free": (None, (_P,)),
    "tw_product_walk": (_I32, (_P, _I64, _I64, _P)),
    "tw_product_pairs": (_I64, (_P,)),
    "tw_product_expanded": (_I64, (_P,)),
    "tw_product_edges": (_I64, (_P,)),
    "tw_product_read": (_I32, (_P, _I64, _P, _I64, _P)),
    "tw_product_way": (_I64, (_P, _I64, _P, _I64)),
    "tw_product_layer": (_I64, (_P, _P, _P, _I64)),
    "tw_monitored_new": (_P, (_P, _P)),
    "tw_monitored_free": (None, (_P,)),
    "tw_monitored_walk": (_I32, (_P, _I64, _I64, _P)),
    "tw_monitored_tell": (_I32, (_P, _I32, _I32, _I32, _I32)),
    "tw_monitored_couples": (_I64, (_P,)),
    "tw_monitored_expanded": (_I64, (_P,)),
    "tw_monitored_face": (_I32, (_P, _I32, _P, _I64)),
    "tw_monitored_way": (_I64, (_P, _I64, _P, _I64)),
    "tw_router_new": (_P, (_P, _P, _P, _P, _I64, _I32, _P)),
    "tw_router_free": (None, (_P,)),
    "tw_router_net": (_I32, (_P, _I32, _I32, _P, _I64, _P, _I64, _P, _I64)),
    "tw_router_reroute": (_I32, (_P, _I32, ctypes.c_double)),
    "tw_router_unhappy": (_I64, (_P, _P, _I64)),
    "tw_router_drop": (_I32, (_P,)),
    "tw_router_pops": (_I64, (_P,)),
    "tw_router_read": (_I64, (_P, _I32, _I32, _P, _I64)),
    "tw_anneal": (_I32, (_P, _I64, _I64, _I64, _P)),
    "tw_batch": (_I32, (_P, _P, _P, _I64, _I64, _I64)),
    "tw_further": (_I64, (_P, _P, _P, _I64, _P, _I64, _I64, _I64, _P, _I64, _P, _P)),
    "tw_layouts": (_I32, (_P, _P, ctypes.c_char_p, _I32, _P, _P, _P, _P)),
    "tw_lengths": (_I32, (_P, _P, _P, _P, _I64, _I64, _P, _I64, _P, _I64, _P)),
}


def library_path() -> Path:
    """Where the library is, or would be."""
    given = os.environ.get(LIBRARY_VARIABLE)
    return Path(given) if given else Path(__file__).with_name(f"libtickwright{SUFFIX}")


@cache
def library() -> ctypes.CDLL:
    """The library, loaded once. Raises UsageError where it is not installed, or is not of this version."""
    path = library_path()
    try:
        found = ctypes.CDLL(str(path))
    except OSError:
        raise UsageError(
            "The fast engine's library is not installed: install Tickwright anew where there is a C compiler or the "
            "package ziglang, or use --engine reference."
        ) from None
    for name, (result, arguments) in _FUNCTIONS.items():
        function = getattr(found, name, None)
        if function is None:
            raise _stale(path)
        function.restype, function.argtypes = result, arguments
    sizes = [found.tw_size(which) for which in range(len(RECORDS))]
    if found.tw_version() != VERSION or sizes != [ctypes.sizeof(record) for record in RECORDS]:
        raise _stale(path)
    return found


def is_installed() -> bool:
    """Whether the fast engine can be used here."""
    try:
        library()
    except UsageError:
        return False
    return True


def _stale(path: Path) -> UsageError:
    return UsageError(f"The fast engine's library {path} belongs to another version: install Tickwright anew.")


def check(status: int) -> int:
    """The status, if it is none of a failure."""
    if status >= 0:
        return status
    if status == NO_MEMORY:
        raise MemoryError
    if status == NOT_STATIC:
        raise UsageError("A graph of states takes no circuit in which items or cells may move.")
    raise ValueError(f"the native engine refuses what it is handed: status {status}")


def made(owner: object, make: Callable[..., int], free: Callable[[int], None], *arguments: object) -> int:
    """The handle of what `make` makes of the arguments, a place for its status after them; freed with its owner."""
    status = ctypes.c_int32()
    handle = make(*arguments, ctypes.byref(status))
    check(status.value)
    weakref.finalize(owner, free, handle)
    return handle


def shuffle_function(key: Callable[[tuple[int, int, int]], tuple[int, ...]], failures: list[BaseException]) -> Any:
    """The first entry of an order's key as C calls it; what goes wrong in it is kept in `failures`."""

    def first(x: int, y: int, z: int) -> int:
        try:
            return key((x, y, z))[0]
        except BaseException as error:  # noqa: BLE001 - C cannot carry it; it is raised after the call
            failures.append(error)
            return 0

    return SHUFFLE(first)
