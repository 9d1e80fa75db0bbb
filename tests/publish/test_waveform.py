"""Waveforms: lanes of text that hide no pulse, and VCD files that strict readers take (IEEE Std 1364-2005, 18.2)."""

import io
import re
import signal
from itertools import groupby, pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from vcd.reader import TokenKind, tokenize

from tickwright.engine.trace import Recorder, Trace
from tickwright.errors import UsageError
from tickwright.publish import lanes, vcd_names, vcd_text

PRESS = Trace(40, {"press": ((0, 0), (2, 15), (22, 0)), "fade": ((0, 0), (4, 15), (14, 8), (24, 1), (34, 0))})


def recorded(columns: dict[str, list[int]]) -> Trace:
    recorder = Recorder(columns)
    for step, values in enumerate(zip(*columns.values(), strict=True)):
        recorder.sample(step, values)
    return recorder.finish(step + 1)


def traces(names: st.SearchStrategy[str], most: int = 15, longest: int = 200) -> st.SearchStrategy[Trace]:
    values = st.lists(st.sampled_from((0, 0, 0, 1, most // 2, most)), min_size=longest, max_size=longest)
    stretches = st.integers(1, 9)
    columns = st.dictionaries(names, values, min_size=1, max_size=3)

    def trace(columns: dict[str, list[int]], steps: int, stretch: int) -> Trace:
        slow = {name: [value for value in values for _ in range(stretch)] for name, values in columns.items()}
        return recorded({name: values[:steps] for name, values in slow.items()})

    return st.builds(trace, columns, st.integers(1, longest), stretches)


def test_lanes_in_blocks() -> None:
    assert lanes(PRESS, width=60) == [
        "seconds  0         0.5       1         1.5",
        "ticks    0         5         10        15",
        "         ┬─────────┬─────────┬─────────┬─────────",
        "press    ▁▁▇▇▇▇▇▇▇▇▇▇▇▇▇▇▇▇▇▇▇▇▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁",
        "             15        8         1",
        "fade     ▁▁▁▁▇▇▇▇▇▇▇▇▇▇▅▅▅▅▅▅▅▅▅▅▂▂▂▂▂▂▂▂▂▂▁▁▁▁▁▁",
        "column = 1 step (0.05 s)",
    ]


def test_lanes_in_ascii() -> None:
    lines = lanes(PRESS, ["fade"], width=60, ascii_only=True)
    assert lines[2:] == [
        "         +---------+---------+---------+---------",
        "             15        8         1",
        "fade     ____ffffffffff88888888881111111111______",
        "column = 1 step (0.05 s)",
    ]
    assert all(line.isascii() for line in lines)


def test_lanes_of_a_part_of_the_run_start_with_the_value_then() -> None:
    assert lanes(PRESS, width=48, start=18, stop=28) == [
        "seconds        1           1.2",
        "ticks          10          12",
        "         ──────┬───────────┬───────────",
        "press    ▇▇▇▇▇▇▇▇▇▇▇▇▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁",
        "         8                 1",
        "fade     ▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▅▂▂▂▂▂▂▂▂▂▂▂▂",
        "3 columns = 1 step (0.05 s)",
    ]


def test_a_column_with_several_changes_says_so() -> None:
    # Four steps to a column: an edge within one, a pulse within one, and one that was on only before its column's end.
    trace = Trace(120, {"bell": ((0, 15), (1, 0), (8, 15), (9, 0), (15, 15), (17, 0), (21, 15), (30, 0))})
    assert lanes(trace, width=40, ascii_only=True)[3:] == [
        "bell     X_X#_##_______________________",
        "column = 4 steps (0.2 s)",
        "X = several changes within a column",
    ]


def test_numbers_never_touch_and_long_stretches_come_first() -> None:
    trace = Trace(31, {"crate": ((0, 0), (1, 9), (2, 10), (4, 11), (6, 300))})
    assert lanes(trace, width=40, ascii_only=True)[3:5] == [
        "           10  300",
        "crate    _.....#########################",
    ]
    assert lanes(trace, width=80, ascii_only=True)[3:5] == [
        "           9 10  11  300",
        "crate    __..........##################################################",
    ]
    equal = Trace(31, {"crate": ((0, 10), (2, 11), (4, 0))})
    assert lanes(equal, width=40, ascii_only=True)[3] == "         10"


def test_long_names_keep_both_ends() -> None:
    names = ["saltmarsh-landing-barrier-east", "bell"]
    trace = Trace(500, dict.fromkeys(names, ((0, 0), (20, 15))))
    lines = lanes(trace, width=40)
    assert lines[3].startswith("saltma…r-east  ▁▇")
    assert lines[4].startswith("bell           ▁▇")
    assert lanes(trace, width=120)[3].startswith("saltmarsh-landing-barrier-east  ▁")


@pytest.mark.parametrize("width", [40, 80, 120])
@pytest.mark.parametrize("steps", [1, 2, 29, 31, 71, 72, 1000, 10**8])
def test_lanes_fit_the_window(width: int, steps: int) -> None:
    trace = Trace(steps, {"gangway-lamp": ((0, 0),), "b": ((0, 7),)})
    lines = lanes(trace, width=width)
    assert all(len(line) <= width for line in lines)
    drawn = {len(line) for line in lines if line.startswith(("gangway-lamp", "b "))}
    assert len(drawn) == 1
    if steps >= 29:
        assert drawn.pop() > width / 2


EMPTY = (
    "Steps 5 to 5 are no part of the run, which has 40 steps: "
    "start at 0 or later, stop after the start and at 40 at the latest."
)


def test_what_cannot_be_drawn_is_refused() -> None:
    for wrong, message in (
        ({"width": 39}, "A window of 39 columns is too narrow for a waveform: give it at least 40."),
        ({"names": ["pres"]}, 'The run watched nothing called "pres". Did you mean "press"?'),
        ({"start": 5, "stop": 5}, EMPTY),
    ):
        with pytest.raises(UsageError) as error:
            lanes(PRESS, **wrong)
        assert str(error.value) == message
    for start, stop in ((-1, 5), (0, 41), (9, 2)):
        with pytest.raises(UsageError, match="no part of the run"):
            lanes(PRESS, start=start, stop=stop)


@given(traces(st.just("lamp"), longest=150), st.integers(40, 90), st.data())
def test_no_stretch_is_hidden(trace: Trace, width: int, data: st.DataObject) -> None:
    """Each stretch of one value shows as a bar of its height, or lies in columns marked as busy."""
    start = data.draw(st.integers(0, trace.steps - 1))
    stop = data.draw(st.integers(start + 1, trace.steps))
    lines = lanes(trace, width=width, start=start, stop=stop, ascii_only=True)
    bars = next(line for line in lines if line.startswith("lamp"))[9:]
    legend = next(re.search(r"(\d+)?\s?columns? = (\d+) step", line) for line in lines if " = " in line)
    assert legend is not None
    wide, steps = int(legend[1] or 1), int(legend[2])
    assert len(bars) == -(-(stop - start) // steps) * wide
    several = not {value for _, value in trace.changes_of("lamp")} <= {0, 15}
    sign = {0: "_", 1: "1", 7: "7", 15: "f" if several else "#"}
    levels = [(step, trace.value_at("lamp", step)) for step in range(start, stop)]
    for value, stretch in groupby(levels, key=lambda pair: pair[1]):
        columns = {(step - start) // steps * wide + part for step, _ in stretch for part in range(wide)}
        assert {bars[column] for column in columns} & {sign[value], "X"}
        assert {bars[column] for column in sorted(columns)[1:-1]} <= {sign[value]}
    assert ("X = several changes within a column" in lines) == ("X" in bars)


def test_vcd_text() -> None:
    trace = Trace(20, {"gangway-lamp": ((0, 0), (4, 15), (7, 0)), "crate": ((0, 300), (4, 320))})
    assert vcd_text(trace).splitlines() == [
        "$comment",
        "\tOne step (0.05 s) is 50 units of time.",
        "\t\tgangway_lamp is gangway-lamp",
        "$end",
        "$timescale 1 ms $end",
        "$version tickwright $end",
        "$scope module circuit $end",
        "$var reg 4 ! gangway_lamp $end",
        '$var reg 9 " crate $end',
        "$upscope $end",
        "$enddefinitions $end",
        "#0",
        "$dumpvars",
        "b0 !",
        'b100101100 "',
        "$end",
        "#200",
        "b1111 !",
        'b101000000 "',
        "#350",
        "b0 !",
        "#1000",
    ]
    assert vcd_text(trace) == vcd_text(trace)


def test_vcd_names_are_safe_and_unique() -> None:
    names = ["a-b", "a_b", "a,b", "3,0,1", "-3,0,1", "x", "a_b_2", "é", ""]
    called = vcd_names(names)
    assert list(called) == names
    assert called == {
        "a-b": "a_b_3", "a_b": "a_b", "a,b": "a_b_4", "3,0,1": "_3_0_1", "-3,0,1": "_3_0_1_2", "x": "x",
        "a_b_2": "a_b_2", "é": "_", "": "__2",
    }  # fmt: skip


NAMES = st.text("ab_-,1", min_size=1, max_size=4)


@given(traces(NAMES, longest=40))
def test_vcd_reads_back_with_a_strict_tokenizer(trace: Trace) -> None:
    names: dict[str, str] = {}  # by the identifier code of the file
    read: dict[str, list[tuple[int, int]]] = {}
    time = 0
    original = {short: name for name, short in vcd_names(trace.names).items()}
    for token in tokenize(io.BytesIO(vcd_text(trace).encode("ascii"))):
        if token.kind is TokenKind.TIMESCALE:
            assert (int(token.timescale.magnitude), token.timescale.unit.value) == (1, "ms")
        elif token.kind is TokenKind.VAR:
            assert token.var.size == 4
            assert re.fullmatch(r"[A-Za-z_][A-Za-z0-9_]*", token.var.reference)
            names[token.var.id_code] = original[token.var.reference]
        elif token.kind is TokenKind.CHANGE_TIME:
            assert token.time_change % 50 == 0
            time = token.time_change
        elif token.kind is TokenKind.CHANGE_VECTOR:
            change = token.vector_change
            assert isinstance(change.value, int)
            read.setdefault(names[change.id_code], []).append((time // 50, change.value))
    assert Trace(time // 50, {name: tuple(changes) for name, changes in read.items()}) == trace


@pytest.fixture(scope="module", name="reader")
def other_reader():
    """The reader of vcdvcd, whose import else lets a broken pipe, such as one to a dead worker, end the process."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delattr(signal, "SIGPIPE", raising=False)
        from vcdvcd import VCDVCD  # type: ignore[import-untyped]
    return VCDVCD


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25)
@given(traces(NAMES, most=1728, longest=40))
def test_vcd_reads_back_with_another_reader(tmp_path: Path, reader, trace: Trace) -> None:
    file = tmp_path / "run.vcd"
    file.write_text(vcd_text(trace), encoding="utf-8")
    read = reader(str(file))
    assert read.timescale["timescale"] * 1000 == 1
    assert read.endtime == trace.steps * 50
    for name, short in vcd_names(trace.names).items():
        lane = read[f"circuit.{short}"]
        assert int(lane.size) == max(4, *(value.bit_length() for _, value in trace.changes[name]))
        assert tuple((time // 50, int(value, 2)) for time, value in lane.tv) == trace.changes[name]
        for (step, value), (after, _) in pairwise([*trace.changes[name], (trace.steps, 0)]):
            assert int(lane[step * 50], 2) == int(lane[after * 50 - 1], 2) == value
