"""The compiled router and annealer: they find what the Python ones find, and refuse what is out of its range."""

from __future__ import annotations

import ctypes
from array import array

import pytest
from tests.netlist.texts import netlist

from tickwright.engine.native import library as lib
from tickwright.engine.native.packing import address
from tickwright.engine.native.routes import Routes
from tickwright.layout.gates import wanted
from tickwright.layout.ground import Ground
from tickwright.layout.laying import route
from tickwright.layout.placing import Annealing
from tickwright.layout.quick import QuickRouter
from tickwright.layout.routing import Router
from tickwright.netlist import map_network

BAD_SIZE = -2


def laid(monkeypatch, quick, seed, room):
    """The places and the plan of c17, by C or by Python."""
    asked = wanted(netlist("c17.blif"), map_network(netlist("c17.blif")))
    first = next(iter(asked.nets))
    reach = {first: [seed * 2] * len(asked.nets[first].sinks)}
    annealing = Annealing(
        asked.instances, asked.nets, room, {"in N1": "west", "in N2": (9, 0, 0)}, seed, 0,
        ways={"in N2": [2, 5]}, reach=reach, blocked=[(3, 3), (3, 4), (90, 90)],
    )  # fmt: skip
    annealing.in_c = quick
    cost = annealing.run(60)
    router = QuickRouter if quick else Router
    monkeypatch.setattr("tickwright.layout.laying.router_of", router)
    return annealing.at, annealing.way, cost, route(annealing.placed(), asked.nets, room, rounds=5)


@pytest.mark.parametrize(("seed", "room"), [(1, (20, 20, 5)), (2, (17, 16, 4)), (3, (13, 14, 4))])
def test_c_and_python_lay_the_same(monkeypatch, seed, room):
    *places, quick = laid(monkeypatch, True, seed, room)
    *others, plain = laid(monkeypatch, False, seed, room)
    assert places == others
    for found in ("plan", "cells", "delays", "levels", "unrouted", "blocked", "faults"):
        assert getattr(quick, found) == getattr(plain, found)


def test_a_net_that_cannot_begin_or_end_is_missing():
    ground = Ground((5, 5, 3))
    routes = Routes(ground.size, ground.wire, ground.block, ground.cuts, 1)
    nowhere = routes.add(1, 15, [], [([30], 1, 5)])
    endless = routes.add(2, 15, [30], [([], 1, 5)])
    short = routes.add(3, 15, [25], [([29], 1, 0)])
    for which in (nowhere, endless, short):
        routes.reroute(which, 1.0)
    assert routes.unhappy() == [nowhere, endless]
    assert routes.read(short, 0)[::4] == [25, 26, 27, 28, 29]
    assert routes.read(short, 2) == [29]
    routes.drop()
    assert routes.read(short, 2) == [29]


@pytest.mark.parametrize(
    "wrong",
    [
        {"number": 0}, {"level": 0}, {"level": 16}, {"starts": [24]}, {"starts": [75]}, {"starts": [-1]},
        {"cells": [3]}, {"goals": [2, 1, 1]}, {"goals": [-1, 1, 1]}, {"goals": [1, 1, -1]},
    ],
)  # fmt: skip
def test_a_net_out_of_range_is_refused(wrong):
    asked = {"number": 1, "level": 15, "starts": [30], "cells": [40], "goals": [1, 1, 1], **wrong}
    router = router_of()
    lists = [array("i", asked[name]) for name in ("starts", "cells", "goals")]
    handed = [item for numbers in lists[:2] for item in (address(numbers), len(numbers))]
    functions = lib.library()
    assert functions.tw_router_net(router, asked["number"], asked["level"], *handed, address(lists[2]), 1) == BAD_SIZE
    assert functions.tw_router_net(None, 1, 15, None, 0, None, 0, None, 0) == BAD_SIZE
    functions.tw_router_free(router)


def router_of(size=(5, 5, 3), n=75, loss=1):
    status = ctypes.c_int32()
    lists = [array("i", size), array("i", [0] * 75), array("i", [0] * 75), array("B", [0] * 75)]
    made = lib.library().tw_router_new(*map(address, lists), n, loss, ctypes.byref(status))
    assert bool(made) == (status.value == lib.DONE)
    return made


@pytest.mark.parametrize(
    "wrong",
    [
        {"size": (5, 5, 4)},
        {"size": (0, 5, 3)},
        {"size": (-5, -5, 3)},
        {"n": 74},
        {"loss": 0},
        {"size": (2**31 - 1,) * 3},
    ],
)
def test_a_room_out_of_range_is_refused(wrong):
    assert router_of(**wrong) is None


def test_what_a_router_does_not_have_is_not_read():
    functions, router, into = lib.library(), router_of(), array("i", [0] * 4)
    assert functions.tw_router_net(router, 1, 15, None, 0, None, 0, None, 0) == 0
    for which, what, n in ((1, 0, 4), (-1, 0, 4), (0, 3, 4), (0, -1, 4), (0, 0, -1)):
        assert functions.tw_router_read(router, which, what, address(into), n) == BAD_SIZE
    assert functions.tw_router_read(router, 0, 0, None, 4) == BAD_SIZE
    assert functions.tw_router_reroute(router, 1, 1.0) == BAD_SIZE
    assert functions.tw_router_reroute(None, 0, 1.0) == BAD_SIZE
    assert functions.tw_router_unhappy(router, address(into), 0) == BAD_SIZE
    assert functions.tw_router_unhappy(router, None, 4) == BAD_SIZE
    assert functions.tw_router_drop(None) == functions.tw_router_pops(None) == BAD_SIZE
    functions.tw_router_free(router)
    functions.tw_router_free(None)


def one_tile():
    """The lists of one tile in a room, by name, and the record that points to them."""
    lists = {
        "shapes": [0, 0, 1, 1] * 8, "ports": [0, 0] * 8, "net_ends": [0, 1], "pins": [0, 0], "own_ends": [0, 1],
        "own_nets": [0], "way_ends": [0, 1], "ways": [0], "fixed": [0, 0, 0], "reach": [-1],
        "taken": [0, 0], "at": [1, 1], "way": [0],
    }  # fmt: skip
    held = {name: array("i", numbers) for name, numbers in lists.items()} | {"state": array("Q", [1])}
    record = lib.AnnealRecord(
        *(address(numbers) for numbers in held.values()), 1, 1, 1, 1, 1, 1, 1, 4.0, 0.08, 12.0, 6, 6, 10
    )  # fmt: skip
    return held, record


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("at", 2_000_000), ("at", -(2**31)), ("way", 8), ("way", -1), ("fixed", 6), ("pins", 9), ("net_ends", 7),
        ("own_nets", 5),
        ("ways", 8),
        ("reach", -2), ("taken", 8), ("far", -1), ("way_ends", 0),
        ("shapes", 2_000_000), ("instances_n", 0), ("instances_n", -1), ("nets_n", -1),
        ("ports_n", 0), ("wide", 0), ("wide", 2**30), ("state", None), ("shapes", None), ("pins", None),
    ],
)  # fmt: skip
def test_tiles_out_of_range_are_refused(field, value):
    held, record = one_tile()
    into = array("q", [0, 0])

    def anneal():
        return lib.library().tw_anneal(ctypes.byref(record), 0, 10, 10, address(into))

    assert anneal() == lib.DONE
    if field in held and value is not None:
        held[field][0 if field == "fixed" else -1] = value
    else:
        setattr(record, field, value)
    assert anneal() == BAD_SIZE


def test_a_span_out_of_range_is_refused():
    _held, record = one_tile()  # the record points into the lists, which must stay
    into = array("q", [0, 0])

    def anneal(first, last, moves):
        return lib.library().tw_anneal(ctypes.byref(record), first, last, moves, address(into))

    assert anneal(0, 1, 2) == lib.DONE
    for first, last, moves in ((-1, 1, 2), (2, 1, 2), (0, 3, 2), (0, 0, 0), (0, 2**31, 2**31)):
        assert anneal(first, last, moves) == BAD_SIZE
    assert lib.library().tw_anneal(ctypes.byref(record), 0, 1, 2, None) == BAD_SIZE
    assert lib.library().tw_anneal(None, 0, 1, 1, address(into)) == BAD_SIZE
    assert lib.library().tw_anneal(ctypes.byref(lib.AnnealRecord()), 0, 1, 2, address(into)) == BAD_SIZE
