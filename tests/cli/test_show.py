"""What a terminal is told while a job lasts, and how it is stopped."""

from __future__ import annotations

import io
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest

from tickwright.cli.show import stoppable, working


class Terminal(io.StringIO):
    """Takes what is shown, as a terminal would."""

    def isatty(self) -> bool:
        return True

    def wait_for(self, text: str) -> None:
        until = time.monotonic() + 600  # for a busy machine
        while text not in self.getvalue():
            assert time.monotonic() < until, self.getvalue()
            time.sleep(0.01)


@pytest.fixture(name="at_terminal")
def shown(monkeypatch: pytest.MonkeyPatch) -> Callable[[], object]:
    @contextmanager
    def terminal() -> Iterator[Terminal]:
        shown, before = Terminal(), threading.active_count()
        with monkeypatch.context() as patch:
            patch.setattr(sys, "stderr", shown)
            yield shown
        assert threading.active_count() == before
        assert shown.getvalue().endswith("\r\033[K")

    return terminal


def test_a_job_is_shown_each_second_with_how_far_it_is(at_terminal):
    with at_terminal() as terminal, working("exporting flat-loop-6.toml") as progress:
        terminal.wait_for(" s (Ctrl-C stops)\033[K")
        assert terminal.getvalue().startswith("\rexporting flat-loop-6.toml: ")
        progress(1200, 3000)
        terminal.wait_for("\rexporting flat-loop-6.toml: 1,200 of 3,000, ")


def test_a_job_that_says_nothing_for_long_is_still_shown_to_go_on(at_terminal):
    with at_terminal() as terminal, stoppable() as tell:
        assert not tell("500 states explored")
        terminal.wait_for("\r500 states explored, ")
        seen = terminal.getvalue()
        terminal.wait_for(f"{seen}\r500 states explored, ")


def test_ctrl_c_is_noted_and_the_second_one_ends_the_job_at_once(at_terminal):
    usual = signal.getsignal(signal.SIGINT)
    with at_terminal() as terminal, stoppable() as tell:
        signal.raise_signal(signal.SIGINT)
        assert tell("3 of 40 mistakes")
        terminal.wait_for(" s (stopping; Ctrl-C again ends it at once)\033[K")
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is usual


def test_nothing_is_shown_where_there_is_no_terminal(capsys):
    with working("running"), stoppable() as tell:
        assert not tell("on the way")
    assert capsys.readouterr() == ("", "")
