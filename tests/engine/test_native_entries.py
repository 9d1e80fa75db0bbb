"""What the library is handed is checked: wrong sizes, numbers and cells are refused, never followed."""

from __future__ import annotations

import ctypes
import os
import random

import pytest

from tickwright.engine.native import is_installed
from tickwright.engine.native import library as lib
from tickwright.engine.native.packing import Palette, address, probe_rows
from tickwright.kinds import parse_part
from tickwright.rules import load_rules

if not is_installed() and not os.environ.get("TICKWRIGHT_REQUIRE_TOOLS"):
    pytest.skip("there is no C compiler, and so no native engine", allow_module_level=True)

BAD_SIZE, BAD_PART, BAD_CELL = -2, -3, -4
TEXTS = (
    "block", "wire", "repeater east delay=3", "comparator west", "torch on=south", "lamp", "lever on=up",
    "short-button", "item-plate", "counting-plate counts=10", "change-sensor up", "piston east", "pull-piston down",
    "hopper items=5", "ejector north items=3", "crate items=9", "power-block", "insulator",
)  # fmt: skip


class Handed:
    """What a test hands to `tw_build`, right at first."""

    def __init__(self) -> None:
        palette = Palette(load_rules())
        cells = {
            (x, y, z): parse_part(TEXTS[(x + 3 * y + 7 * z) % 18]) for x in range(6) for y in range(4) for z in (0, 1)
        }
        self.cells = palette.cells(cells)
        self.rows = palette.records()
        self.rules = type(palette.packed.record).from_buffer_copy(palette.packed.record)
        self.probes = probe_rows(cells)
        self.numbers = {"rows": len(palette.codes), "cells": len(cells), "probes": len(cells), "order": 0}
        self.shuffle = None
        self.world = lib.library().tw_new()

    def build(self) -> int:
        n = self.numbers
        return lib.library().tw_build(
            self.world, ctypes.byref(self.rules), self.rows, n["rows"], address(self.cells), n["cells"],
            address(self.probes), n["probes"], n["order"], self.shuffle,
        )  # fmt: skip

    def run(self) -> None:
        """Run what was built; it must come back, whatever was built."""
        functions = lib.library()
        assert functions.tw_advance(self.world, 300, 100_000) in (0, 1)
        notes = (lib.NoteRecord * 3)()
        assert functions.tw_notes(self.world, notes, 3) <= 3
        values = (ctypes.c_int32 * self.numbers["probes"])()
        assert functions.tw_values(self.world, values, self.numbers["probes"]) == 0
        assert all(value >= 0 for value in values)


@pytest.fixture
def handed():
    made = Handed()
    yield made
    lib.library().tw_free(made.world)


def test_what_is_right_is_built_again_and_again(handed):
    for _ in range(3):
        assert handed.build() == 0
        handed.run()


@pytest.mark.parametrize(
    ("name", "number"),
    [("rows", -1), ("rows", 65536), ("cells", -1), ("cells", 10**7 + 1), ("probes", -5), ("order", 3), ("order", 2)],
)
def test_a_number_out_of_range_is_refused(handed, name, number):
    handed.numbers[name] = number
    assert handed.build() == BAD_SIZE


def test_bad_cells_and_codes_are_refused(handed):
    right = handed.cells[:]
    for place, value, status in ((0, 2**21, BAD_CELL), (2, -(2**30), BAD_CELL), (3, -1, BAD_SIZE), (3, 18, BAD_SIZE)):
        handed.cells = right[:]
        handed.cells[place] = value
        assert handed.build() == status
    handed.cells = right[:]
    handed.cells[4:7] = right[0:3]
    assert handed.build() == BAD_CELL, "a cell given twice"
    handed.cells = right[:]
    assert handed.build() == 0, "a world that was refused can be built again"


def test_a_palette_or_rules_with_any_number_wrong_are_refused_or_run(handed):
    """Numbers at random in the place of right ones: what is not refused must run without harm."""
    rng = random.Random(1)
    refused = 0
    for turn in range(400):
        made = Handed()
        record = made.rows[rng.randrange(made.numbers["rows"])] if turn % 2 else made.rules
        field = rng.choice(record._fields_)[0]
        setattr(record, field, rng.choice([-1, 0, 1, 2, 5, 6, 7, 15, 16, 64, 10**4, 10**6, -(2**31), 2**31 - 1]))
        status = made.build()
        assert status in (0, BAD_SIZE, BAD_PART), (field, status)
        refused += status != 0
        if status == 0:
            made.run()
        lib.library().tw_free(made.world)
    assert 50 < refused < 350


def test_bad_acts_are_refused(handed):
    functions = lib.library()
    assert handed.build() == 0
    right = {"step": 3, "x": 0, "y": 0, "z": 1, "verb": 9, "number": 1, "code": 2, "instead": 0}
    act = (lib.ActRecord * 1)(lib.ActRecord(**right))
    assert functions.tw_script(handed.world, act, 1) == 0
    wrong = {"step": -1, "x": 2**22, "verb": 12, "number": -1, "code": 99, "instead": 50}
    for field, value in wrong.items():
        act[0] = lib.ActRecord(**{**right, field: value})
        assert functions.tw_script(handed.world, act, 1) == BAD_SIZE, field
    act[0] = lib.ActRecord(**{**right, "step": 2})
    assert functions.tw_script(handed.world, act, 1) == BAD_SIZE, "before one that is there already"
    assert functions.tw_script(handed.world, act, -1) == BAD_SIZE
    assert functions.tw_script(handed.world, None, 1) == BAD_SIZE
    assert functions.tw_do(handed.world, act) == BAD_SIZE, "before the first step"


def test_no_world_and_no_room_are_refused(handed):
    functions = lib.library()
    for call in (
        functions.tw_build(None, None, None, 0, None, 0, None, 0, 0, None),
        functions.tw_advance(None, 5, 5),
        functions.tw_step(handed.world, 5),
        functions.tw_copy(handed.world, handed.world),
        functions.tw_copy(None, handed.world),
        functions.tw_values(handed.world, None, 5),
        functions.tw_notes(handed.world, None, 5),
        functions.tw_size(99),
    ):
        assert call == BAD_SIZE
    assert handed.build() == 0
    assert functions.tw_values(handed.world, None, 3) == BAD_SIZE


def test_a_library_that_is_missing_or_another_is_said(monkeypatch, tmp_path):
    for text in (None, b"no library"):
        path = tmp_path / "libtickwright.so"
        if text is not None:
            path.write_bytes(text)
        monkeypatch.setenv(lib.LIBRARY_VARIABLE, str(path))
        lib.library.cache_clear()
        assert not is_installed()
        with pytest.raises(lib.UsageError, match=r"library is not installed: .* or use --engine reference"):
            lib.library()
    monkeypatch.undo()
    lib.library.cache_clear()
    assert is_installed()
