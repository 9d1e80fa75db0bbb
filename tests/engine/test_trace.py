"""Traces: change lists, values between changes, first differences, and the recorder that builds them."""

import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tickwright.engine.trace import Difference, Recorder, Trace, first_difference
from tickwright.errors import UsageError

LANDING = Trace(10, {"lamp": ((0, 0), (4, 15), (7, 0)), "bell": ((0, 3),)})


def recorded(rows: list[tuple[int, ...]], names: str = "ab") -> Trace:
    recorder = Recorder(names)
    for step, values in enumerate(rows):
        recorder.sample(step, values)
    return recorder.finish(len(rows))


def test_values_hold_until_the_next_change() -> None:
    assert [LANDING.value_at("lamp", step) for step in range(10)] == [0] * 4 + [15] * 3 + [0] * 3
    assert LANDING.value_at("bell", 9) == 3
    assert LANDING.names == ("lamp", "bell")


def test_wrong_names_and_steps_are_refused() -> None:
    with pytest.raises(UsageError) as unknown:
        LANDING.value_at("lmap", 0)
    assert str(unknown.value) == 'The run watched nothing called "lmap". Did you mean "lamp"?'
    for step in (-1, 10):
        with pytest.raises(UsageError) as outside:
            LANDING.value_at("lamp", step)
        assert str(outside.value) == f"Step {step} lies outside the run: it has the steps 0 to 9."


def test_a_trace_can_be_sent_to_another_process() -> None:
    assert pickle.loads(pickle.dumps(LANDING)) == LANDING


def test_the_recorder_keeps_changes_only() -> None:
    trace = recorded([(0, 2), (0, 2), (15, 2), (15, 1), (15, 1)])
    assert trace == Trace(5, {"a": ((0, 0), (2, 15)), "b": ((0, 2), (3, 1))})


def test_quiet_steps_need_no_sample() -> None:
    recorder = Recorder(["lamp"])
    recorder.sample(0, [0])
    recorder.sample(40, [15])
    assert recorder.finish(100) == Trace(100, {"lamp": ((0, 0), (40, 15))})


def test_the_recorder_refuses_what_makes_no_trace() -> None:
    with pytest.raises(ValueError, match="watched twice"):
        Recorder(["lamp", "lamp"])
    with pytest.raises(ValueError, match="step 1 is sampled after step -1"):
        Recorder(["lamp"]).sample(1, [0])
    recorder = Recorder(["lamp"])
    recorder.sample(0, [0])
    with pytest.raises(ValueError, match="step 0 is sampled after step 0"):
        recorder.sample(0, [0])
    with pytest.raises(ValueError, match="argument"):
        recorder.sample(1, [0, 0])
    with pytest.raises(ValueError, match="ends with a sample of step 1"):
        recorder.finish(1)
    with pytest.raises(ValueError, match="ends with a sample of step -1"):
        Recorder(["lamp"]).finish(0)


@pytest.mark.parametrize(
    ("a", "b", "expected"),
    [
        (LANDING, LANDING, None),
        # another value, an earlier change, a change only one has
        (Trace(9, {"x": ((0, 0), (3, 5))}), Trace(9, {"x": ((0, 0), (3, 6))}), (3, "x", 5, 6)),
        (Trace(9, {"x": ((0, 0), (3, 5))}), Trace(9, {"x": ((0, 0), (2, 5))}), (2, "x", 0, 5)),
        (Trace(9, {"x": ((0, 0), (3, 5))}), Trace(9, {"x": ((0, 0),)}), (3, "x", 5, 0)),
        # the earliest step wins over the order of names, which decides within a step
        (Trace(9, {"x": ((0, 0), (3, 5)), "y": ((0, 1),)}), Trace(9, {"x": ((0, 0),), "y": ((0, 2),)}), (0, "y", 1, 2)),
        (Trace(9, {"y": ((0, 1),), "x": ((0, 1),)}), Trace(9, {"x": ((0, 2),), "y": ((0, 2),)}), (0, "y", 1, 2)),
        # one run is shorter: up to its end they agree, even if the other changes later
        (Trace(5, {"x": ((0, 0),)}), Trace(9, {"x": ((0, 0),)}), (5, "x", None, 0)),
        (Trace(5, {"x": ((0, 0),)}), Trace(9, {"x": ((0, 0), (7, 1))}), (5, "x", None, 0)),
        # a name only one of them has
        (Trace(9, {"x": ((0, 0),)}), Trace(9, {"x": ((0, 0),), "y": ((0, 4),)}), (0, "y", None, 4)),
    ],
)
def test_first_difference(a: Trace, b: Trace, expected: Difference | None) -> None:
    assert first_difference(a, b) == expected
    swapped = first_difference(b, a)
    assert (swapped and swapped.step) == (expected and expected[0])


ROWS: st.SearchStrategy[list[tuple[int, ...]]] = st.lists(
    st.tuples(st.integers(0, 2), st.integers(0, 2)), min_size=1, max_size=12
)


@given(ROWS, ROWS)
def test_traces_agree_with_their_rows(rows: list[tuple[int, ...]], others: list[tuple[int, ...]]) -> None:
    trace, other = recorded(rows), recorded(others)
    assert [(trace.value_at("a", step), trace.value_at("b", step)) for step in range(len(rows))] == rows
    first = next((s for s, (one, two) in enumerate(zip(rows, others, strict=False)) if one != two), None)
    if first is None and len(rows) != len(others):
        first = min(len(rows), len(others))
    found = first_difference(trace, other)
    assert (found and found.step) == first
    assert (found is None) == (trace == other)
