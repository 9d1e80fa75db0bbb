"""Batches, press lengths, further acts and graphs of states are handed wrong counts, indexes and sizes: all refused."""

from __future__ import annotations

import ctypes
import os
import random
from array import array

import pytest

from tickwright.engine.native import Batch, Job, Simulation, StateGraph, is_installed
from tickwright.engine.native import library as lib
from tickwright.engine.native.packing import address
from tickwright.plan import loads
from tickwright.plan.hand import Stimulus
from tickwright.plan.setup import Setup
from tickwright.rules import load_rules

if not is_installed() and not os.environ.get("TICKWRIGHT_REQUIRE_TOOLS"):
    pytest.skip("there is no C compiler, and so no native engine", allow_module_level=True)

DONE, NO_MEMORY, BAD_SIZE, BAD_PART, BAD_CELL, NOT_STATIC = 0, -1, -2, -3, -4, -5
NUMBERS = (-1, -(2**63), 2**63 - 1, 2**62, 2**31, 10**7 + 1)
PLAN = loads("""format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button", L = "lamp", w = "wire", r = "repeater east delay=2"}
layer = [{rows = "####"}, {rows = "brwL"}]
triggers = {press = [0, 0, 1]}
outputs = {lamp = [3, 0, 1], wire = [2, 0, 1]}""")
PRESS = (Stimulus(5, (0, 0, 1), "press"), Stimulus(40, (0, 0, 1), "press"))
RULES = load_rules()


class HandedBatch:
    """What `tw_batch` is handed, right at first: three jobs of two layouts."""

    def __init__(self) -> None:
        batch = Batch()
        first = batch.add_plan(Setup(PLAN, RULES))
        second = batch.change(first, {(1, 0, 1): None})
        self.jobs = batch.jobs([Job(first, PRESS), Job(first), Job(second, PRESS, (9,))])
        self.summaries, self.endings = (lib.SummaryRecord * 6)(), (lib.EndingRecord * 3)()
        self.data, self.kept = batch._data(self.jobs, self.summaries, self.endings)
        self.layouts = self.kept[4]
        self.first, self.end, self.steps = 0, 3, 100
        functions = lib.library()
        self.worlds = functions.tw_new(), functions.tw_new()

    def run(self) -> int:
        return lib.library().tw_batch(*self.worlds, ctypes.byref(self.data), self.first, self.end, self.steps)

    def free(self) -> None:
        for world in self.worlds:
            lib.library().tw_free(world)


@pytest.fixture
def batch():
    made = HandedBatch()
    yield made
    made.free()


def test_a_batch_that_is_right_runs_again_and_again(batch):
    for _ in range(3):
        assert batch.run() == DONE
        assert [row.pulses for row in batch.summaries] == [2, 2, 0, 0, 0, 0]


@pytest.mark.parametrize("count", ["cells_n", "probes_n", "layouts_n", "acts_n", "jobs_n", "summaries_n", "rules_n"])
def test_a_batch_with_a_count_too_small_or_senseless_is_refused(batch, count):
    right = getattr(batch.data, count)
    for number in (right - 1, -1, -(2**63), 2**63 - 1):
        setattr(batch.data, count, number)
        assert batch.run() == BAD_SIZE, number
    setattr(batch.data, count, right)
    assert batch.run() == DONE


@pytest.mark.parametrize(
    "array_name", ["rules", "palette", "cells", "probes", "layouts", "acts", "jobs", "summaries", "endings"]
)
def test_a_batch_without_one_of_its_arrays_is_refused(batch, array_name):
    setattr(batch.data, array_name, None)
    assert batch.run() == BAD_SIZE


def test_a_batch_with_too_few_or_too_many_parts_in_its_palette_is_refused(batch):
    for number in (batch.data.palette_n - 1, -1, 65536, 2**62):
        batch.data.palette_n = number
        assert batch.run() == BAD_SIZE, number


@pytest.mark.parametrize("field", ["cells", "cells_n", "probes", "probes_n", "rules", "order"])
def test_a_layout_that_lies_elsewhere_is_refused(batch, field):
    for number in NUMBERS:
        made = HandedBatch()
        setattr(made.layouts[1], field, number if field not in ("rules", "order") else max(min(number, 2**31 - 1), -9))
        status = made.run()
        assert status == BAD_SIZE, number
        made.free()


@pytest.mark.parametrize("field", ["layout", "acts", "acts_n", "summaries"])
def test_a_job_that_names_what_is_not_there_is_refused(batch, field):
    for number in NUMBERS:
        made = HandedBatch()
        setattr(made.jobs.records[2], field, number)
        assert made.run() == BAD_SIZE, number
        assert made.endings[2].status == BAD_SIZE
        made.free()


def test_a_batch_of_senseless_first_end_or_steps_is_refused(batch):
    for first, end, steps in (
        (-1, 3, 9), (0, 4, 9), (2, 1, 9), (-(2**63), 2**63 - 1, 9), (0, -1, 9), (0, 3, 0), (0, 3, -5),
        (0, 3, 2**63 - 1),
    ):  # fmt: skip
        batch.first, batch.end, batch.steps = first, end, steps
        assert batch.run() == BAD_SIZE
    functions = lib.library()
    world = batch.worlds[0]
    assert functions.tw_batch(world, world, ctypes.byref(batch.data), 0, 3, 9) == BAD_SIZE
    assert functions.tw_batch(None, world, ctypes.byref(batch.data), 0, 3, 9) == BAD_SIZE
    assert functions.tw_batch(*batch.worlds, None, 0, 3, 9) == BAD_SIZE


def test_batches_with_numbers_at_random_are_refused_or_run():
    rng = random.Random(3)
    seen = set()
    for _ in range(300):
        made = HandedBatch()
        record = rng.choice(
            [made.data, made.layouts[rng.randrange(2)], made.jobs.records[rng.randrange(3)], made.jobs.acts[1]]
        )
        field, _ = rng.choice([one for one in record._fields_ if one[1] is not ctypes.c_void_p])
        number = rng.choice([-(2**40), -2, -1, 0, 1, 2, 3, 4, 5, 7, 9, 12, 40, 2**20, 2**31 - 1, 2**40])
        if field.endswith("_n") and record is made.data:
            number = min(number, getattr(record, field))  # no library can tell that an array is shorter than it is told
        setattr(record, field, number)
        seen.add(made.run())
        made.free()
    assert {DONE, BAD_SIZE} <= seen <= {DONE, BAD_SIZE, BAD_CELL}


# --- press lengths and further acts ----------------------------------------------------------------------------------


class Lengths:
    """What `tw_lengths` is handed, right at first."""

    def __init__(self) -> None:
        functions = lib.library()
        self.sim = Simulation(Setup(PLAN, RULES), watch=PLAN.outputs)
        self.sim.advance(3)
        self.worlds = [functions.tw_new(), functions.tw_new(), self.sim.world.handle]
        self.cell = (ctypes.c_int32 * 3)(0, 0, 1)
        self.lengths = array("q", [1, 2, 300])
        self.summaries, self.endings = (lib.SummaryRecord * 6)(), (lib.EndingRecord * 3)()
        self.numbers = {"step": 5, "until": 600, "lengths_n": 3, "summaries_n": 6}

    def run(self) -> int:
        n = self.numbers
        return lib.library().tw_lengths(
            *self.worlds, self.cell, n["step"], n["until"], address(self.lengths), n["lengths_n"], self.summaries,
            n["summaries_n"], self.endings,
        )  # fmt: skip

    def free(self) -> None:
        for world in self.worlds[:2]:
            lib.library().tw_free(world)


def test_press_lengths_with_a_number_out_of_range_are_refused():
    wrong = {
        "step": (-1, 600, 2**62, -(2**63)),
        "until": (5, 0, -1, 2**63 - 1),
        "lengths_n": (-1, 2, 4, 2**62, -(2**63)),
        "summaries_n": (-1, 5, 7, 2**63 - 1),
    }
    for name, numbers in wrong.items():
        for number in numbers:
            made = Lengths()
            assert made.run() == DONE
            made.numbers[name] = number
            assert made.run() == BAD_SIZE, (name, number)
            made.free()


def test_press_lengths_that_do_not_ascend_and_cells_without_a_button_are_refused():
    made = Lengths()
    for lengths in ([0, 1, 2], [1, 1, 2], [3, 2, 9], [-5, 2, 9], [1, 2, 2**63 - 1]):
        made.lengths = array("q", lengths)
        assert made.run() == BAD_SIZE, lengths
    made.lengths = array("q", [1, 2, 3])
    for cell, status in (((1, 0, 1), BAD_CELL), ((9, 9, 9), BAD_CELL), ((2**30, 0, 0), BAD_SIZE)):
        made.cell[:] = cell
        assert made.run() == status
    made.cell[:] = (0, 0, 1)
    made.worlds[1] = made.worlds[0]
    assert made.run() == BAD_SIZE
    lib.library().tw_free(made.worlds[0])


def test_a_button_that_breaks_while_it_is_held_is_not_released():
    """The block under the button is pushed away by a piston that the button itself moves."""
    plan = loads("""format = "tickwright plan 1"
legend = {"#" = "block", b = "short-button on=down", P = "piston east", L = "lamp"}
layer = [{rows = "P#."}, {rows = ".bL"}]
triggers = {press = [1, 0, 1]}
outputs = {lamp = [2, 0, 1]}""")
    setup = Setup(plan, RULES)
    sim = Simulation(setup, watch=plan.outputs)
    from tickwright.engine.native import press_lengths

    found = press_lengths(sim, (1, 0, 1), 5, [1, 3, 40, 300], 600)
    for length, place in ((1, 0), (3, 1), (40, 2), (300, 3)):
        alone = Simulation(
            setup,
            watch=plan.outputs,
            stimuli=[Stimulus(5, (1, 0, 1), "press")],
            button_steps={(1, 0, 1): length},
        )
        alone.advance(600)
        pulses = [step for step, value in alone.trace(600).changes["lamp"] if value]
        assert len(pulses) == found.pulses[place]


class FurtherActs:
    """What `tw_further` is handed, right at first: three jobs of one, two and one acts."""

    def __init__(self) -> None:
        functions = lib.library()
        self.sim = Simulation(Setup(PLAN, RULES), watch=PLAN.outputs)
        acts = [Stimulus(step, (0, 0, 1), "press") for step in (4, 5, 30, 60)]
        self.acts = (lib.ActRecord * 4)(*map(self.sim.act_record, acts))
        self.starts = array("q", [0, 1, 3, 4])
        self.worlds = [self.sim.world.copy(), functions.tw_new()]
        assert functions.tw_log(self.worlds[0].handle, 2) == DONE
        self.into, self.ends = (lib.ChangeRecord * 100)(), array("q", [0] * 3)
        self.endings = (lib.EndingRecord * 3)()
        self.numbers = {"acts_n": 4, "first": 0, "jobs_n": 3, "until": 200, "into_n": 100}

    def run(self) -> int:
        n = self.numbers
        return lib.library().tw_further(
            self.worlds[0].handle, self.worlds[1], self.acts, n["acts_n"], address(self.starts), n["first"],
            n["jobs_n"], n["until"], self.into, n["into_n"], address(self.ends), self.endings,
        )  # fmt: skip

    def free(self) -> None:
        lib.library().tw_free(self.worlds[1])


def test_further_acts_with_a_number_out_of_range_are_refused():
    wrong = {
        "acts_n": (3, -1, 2**62), "first": (-1, 4, -(2**63)), "jobs_n": (-1, 2**62), "until": (0, -1, 2**63 - 1),
        "into_n": (-1, -(2**63)),
    }  # fmt: skip
    for name, numbers in wrong.items():
        for number in numbers:
            made = FurtherActs()
            made.numbers[name] = number
            assert made.run() == BAD_SIZE, (name, number)
            made.numbers = FurtherActs().numbers
            assert made.run() == 3
            made.free()


@pytest.mark.parametrize("starts", [[0, 0, 3, 4], [0, 2, 1, 4], [-1, 1, 3, 4], [0, 1, 3, 5], [0, 1, 3, 2**62]])
def test_lists_of_further_acts_that_lie_elsewhere_are_refused(starts):
    made = FurtherActs()
    made.starts = array("q", starts)
    assert made.run() == BAD_SIZE
    made.free()


def test_further_acts_out_of_their_order_are_refused_and_a_full_buffer_is_no_failure():
    for place, field, value in ((0, "step", -1), (2, "step", 4), (3, "step", 4), (1, "verb", 99), (1, "x", 2**30)):
        made = FurtherActs()
        setattr(made.acts[place], field, value)
        assert made.run() == BAD_SIZE, (place, field)
        made.free()
    made = FurtherActs()
    assert made.run() == 3
    need = made.ends[0]
    made.free()
    made = FurtherActs()
    made.numbers["into_n"] = need - 1
    assert made.run() == 0
    made.numbers["into_n"] = need
    assert made.run() == 1
    made.free()


# --- graphs of states ------------------------------------------------------------------------------------------------


def graph_of(acts_n=2, ways=(0, 1, 0), lengths=(1, 2), step=4, ways_n=None, lists_n=None, acts=None, world=True):
    """A graph of the plan with these arguments, and its status."""
    sim = Simulation(Setup(PLAN, RULES), watch=PLAN.outputs)
    sim.advance(step + 1 if 0 <= step < 100 else 5)
    records = acts or [Stimulus(0, (0, 0, 1), "press"), Stimulus(0, (0, 0, 1), "on")]
    packed = (lib.ActRecord * max(len(records), 1))(*map(sim.act_record, records))
    status = ctypes.c_int32(77)
    places, numbers = array("i", [*ways, 0]), array("i", [*lengths, 0])
    handle = lib.library().tw_graph_new(
        sim.world.handle if world else None, step, packed, acts_n, address(places),
        len(ways) if ways_n is None else ways_n, address(numbers),
        len(lengths) if lists_n is None else lists_n, ctypes.byref(status),
    )  # fmt: skip
    return handle, status.value


@pytest.mark.parametrize(
    "wrong",
    [
        {"acts_n": -1}, {"acts_n": 1}, {"acts_n": 17}, {"acts_n": 2**62}, {"ways": (0, 2, 0)}, {"ways": (0, -1, 0)},
        {"lengths": (1, 1)}, {"lengths": (0, 3)}, {"lengths": (17, 2)}, {"lengths": (-1, 4)}, {"ways_n": 2},
        {"ways_n": -1}, {"ways_n": 2**62}, {"lists_n": -1}, {"lists_n": 4097}, {"lists_n": 2**62}, {"lists_n": 1},
        {"step": -2}, {"step": 2**62}, {"world": False}, {"acts": [Stimulus(0, (0, 0, 1), "clear")] * 2},
    ],
    ids=str,
)  # fmt: skip
def test_a_graph_with_a_number_out_of_range_is_refused(wrong):
    assert graph_of(**wrong) == (None, BAD_SIZE)


def test_a_graph_is_not_read_beyond_its_states():
    functions = lib.library()
    handle, status = graph_of(acts_n=1, ways=(0,), lengths=(1,))
    assert (bool(handle), status) == (True, DONE)
    numbers, rests = (ctypes.c_int32 * 4000)(), (ctypes.c_uint8 * 1000)()
    assert functions.tw_graph_states(handle) == 1
    assert functions.tw_graph_futures(handle, numbers, 5) == BAD_SIZE, "not explored yet"
    for first, end in ((-1, 5), (2, 5), (5, 4), (-(2**63), 2**63 - 1)):
        assert functions.tw_graph_explore(handle, first, end) == BAD_SIZE
    while functions.tw_graph_states(handle) < 10:
        assert functions.tw_graph_explore(handle, 0, 2**62) == DONE
    known = functions.tw_graph_states(handle)
    assert functions.tw_graph_explore(handle, known, 2**63 - 1) == DONE
    for first, number in ((-1, 1), (0, -1), (0, known + 1), (known, 1), (known + 1, 0), (2**62, 2**62)):
        assert functions.tw_graph_read(handle, first, number, numbers, numbers, rests) == BAD_SIZE
    assert functions.tw_graph_read(handle, 0, 1, None, None, None) == BAD_SIZE
    assert functions.tw_graph_read(handle, 0, 0, None, None, None) == DONE
    for size in (-1, 0, 5 * known - 1, 5 * known + 1, 2**62):
        assert functions.tw_graph_futures(handle, numbers, size) == BAD_SIZE
    assert functions.tw_graph_futures(handle, None, 5 * known) == BAD_SIZE
    assert functions.tw_graph_states(None) == functions.tw_graph_edges(None) == BAD_SIZE
    functions.tw_graph_free(handle)
    functions.tw_graph_free(None)


def test_no_states_are_asked_of_a_graph_before_they_are_known():
    graph = StateGraph(Setup(PLAN, RULES), PLAN.outputs, [(0, 0, 1)], [(0,)], first=1)
    with pytest.raises(ValueError, match="refuses"):
        graph.after(5)


# --- products of states and observers --------------------------------------------------------------------------------


def product_of(graph, hands=-1, grid=1, number=1, limit=(0, 4, -1, 60, -1, 0)):
    """A product of the graph with these arguments, and its status."""
    status = ctypes.c_int32(77)
    limits = (lib.LimitRecord * 1)(lib.LimitRecord(*limit))
    handle = lib.library().tw_product_new(graph, limits if number else None, number, hands, grid, ctypes.byref(status))
    return handle, status.value


@pytest.mark.parametrize(
    "wrong",
    [
        {"hands": -2}, {"hands": 10**6 + 1}, {"grid": 0}, {"grid": -1}, {"grid": 10**6 + 1}, {"number": -1},
        {"number": 65}, {"number": 2**62}, {"limit": (-1, 4, -1, 60, -1, 0)}, {"limit": (2, 4, -1, 60, -1, 0)},
        {"limit": (0, -2, -1, 60, -1, 0)}, {"limit": (0, 4, 2**31 - 1, 60, -1, 0)}, {"limit": (0, 4, -1, -9, -1, 0)},
        {"limit": (0, 4, -1, 60, -2, 0)}, {"limit": (0, 4, -1, 60, -1, 2)},
    ],
    ids=str,
)  # fmt: skip
def test_a_product_with_a_number_out_of_range_is_refused(wrong):
    graph, _ = graph_of(acts_n=1, ways=(0,), lengths=(1,))
    assert product_of(graph, **wrong) == (None, BAD_SIZE)
    assert product_of(None) == (None, BAD_SIZE)
    lib.library().tw_graph_free(graph)


def test_a_product_is_not_read_beyond_its_pairs():
    functions = lib.library()
    graph, _ = graph_of(acts_n=1, ways=(0,), lengths=(1,))
    product, status = product_of(graph)
    assert (bool(product), status) == (True, DONE)
    at, row, cost = ctypes.c_int32(), (ctypes.c_int32 * 4)(), (ctypes.c_int32 * 2)()
    for most, limit in ((0, 5), (-1, 5), (5, -1), (-(2**63), 2**63 - 1)):
        assert functions.tw_product_walk(product, most, limit, ctypes.byref(at)) == BAD_SIZE
    assert functions.tw_product_walk(product, 5, 5, None) == BAD_SIZE
    assert functions.tw_product_walk(product, 3, 2**63 - 1, ctypes.byref(at)) > 0
    known = functions.tw_product_pairs(product)
    assert 1 < known < 1000
    assert functions.tw_product_read(product, known - 1, row, 4, cost) == DONE
    for pair, size in ((known, 4), (-1, 4), (2**62, 4), (0, 3), (0, 5), (0, -1)):
        assert functions.tw_product_read(product, pair, row, size, cost) == BAD_SIZE
    assert functions.tw_product_read(product, 0, None, 4, cost) == BAD_SIZE
    assert functions.tw_product_way(product, known - 1, row, cost[1] - 1) == BAD_SIZE
    assert functions.tw_product_way(product, known, row, 4) == BAD_SIZE
    assert functions.tw_product_way(product, known - 1, None, 4) == BAD_SIZE
    assert functions.tw_product_layer(product, row, row, -1) == BAD_SIZE
    assert functions.tw_product_layer(product, None, row, 4) == BAD_SIZE
    assert functions.tw_product_layer(product, None, None, 0) == 0
    for call in (functions.tw_product_pairs, functions.tw_product_expanded, functions.tw_product_edges):
        assert call(None) == BAD_SIZE
    functions.tw_product_free(product)
    functions.tw_product_free(None)
    functions.tw_graph_free(graph)
