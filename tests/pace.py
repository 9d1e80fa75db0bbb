"""How long each test takes, and `--fast`: only those that take under a second, with all their cases.

What is measured is the processor's time, of the test and the processes it waits for, so that a busy machine makes no
test slow. The slow ones stand in tests/slow.txt, by function: all cases of one together. `--record-pace` writes that
file anew from what was run, and keeps what was not run as it was; what a fixture takes that several tests share counts
for each of them. Tests in a browser are slow, listed or not: its time is not measured. A case that takes over
NOTICED_SECONDS and whose test does not stand there is named at the end of the run: it makes `--fast` slow. It fails the
run only where it takes TOO_SLOW times as long: no machine is slower than ours by so much. So that the first use of
something that is compiled or loaded once counts for no test, such a test is run a second time, and the shorter time
counts. Without the file nothing is noticed.
"""

from __future__ import annotations

import gc
import math
import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from _pytest.runner import runtestprotocol

FAST_SECONDS = 1.0
NOTICED_SECONDS = 3.0
TOO_SLOW = 4  # times as long as what is noticed: another machine, and a busy one, take more of the processor's time
LIST = Path(__file__).with_name("slow.txt")
HEAD = "# Tests that take over a second with all their cases; `python dev.py test --record-pace` writes this.\n"
BROWSER, BENCH = "browser", "Bench"  # the fixture of those that open a browser; what those import that work a workbench
TOOK, SHARED = "processor_seconds", "seconds_of_shared_fixtures"
TESTS_OF = re.compile(r"^ *(?:async )?def (test_\w+)", re.MULTILINE)
OPENS_BENCH = re.compile(rf"^from \w+ import .*\b{BENCH}\b", re.MULTILINE)


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the options of the pace."""
    group = parser.getgroup("pace")
    group.addoption("--fast", action="store_true", help="run only the tests that take under a second in all")
    group.addoption("--record-pace", action="store_true", help="write tests/slow.txt anew from what is run")
    group.addoption("--slow-list", type=Path, default=LIST, metavar="FILE", help=f"instead of {LIST.name}")
    group.addoption("--noticed-seconds", type=float, default=NOTICED_SECONDS, help="when an unlisted test is too slow")


def pytest_configure(config: pytest.Config) -> None:
    """Begin to keep the pace."""
    config.stash[KEEPER] = keeper = Keeper(config)
    config.pluginmanager.register(Hearing(keeper))


class Keeper:
    """What is known of the pace: the functions that are slow, and how long each case that was run took."""

    def __init__(self, config: pytest.Config) -> None:
        self.file: Path = config.getoption("--slow-list")
        self.slow = read_list(self.file)
        self.took: dict[str, float] = {}
        self.shared: dict[str, dict[str, float]] = {}  # test function -> fixtures that others use, too
        self.made: dict[str, float] = {}
        noticing = self.file.exists() and not config.getoption("--record-pace")
        self.noticed: float = config.getoption("--noticed-seconds") if noticing else math.inf

    def unlisted(self, times: int = 1) -> dict[str, float]:
        """The functions with a case that takes so many times what is noticed, and how long; not those listed."""
        found: dict[str, float] = {}
        for case, took in self.took.items():
            name = function_of(case)
            if took > times * self.noticed and name not in self.slow:
                found[name] = max(took, found.get(name, 0.0))
        return found

    def record(self) -> None:
        """Write the list anew."""
        whole: dict[str, float] = {}
        for case, took in self.took.items():
            shared = sum(self.shared.get(function_of(case), {}).values())
            whole[function_of(case)] = whole.get(function_of(case), shared) + took
        found = {name for name, took in whole.items() if took > FAST_SECONDS} | (self.slow - whole.keys())
        self.file.write_text(HEAD + "".join(f"{name}\n" for name in sorted(found)), encoding="utf-8")


KEEPER: pytest.StashKey[Keeper] = pytest.StashKey()


def read_list(file: Path) -> frozenset[str]:
    """The functions that a list of slow tests names."""
    lines = file.read_text(encoding="utf-8").splitlines() if file.exists() else []
    return frozenset(line for line in lines if line and not line.startswith("#"))


def function_of(nodeid: str) -> str:
    """A test's function, whatever its parameters."""
    return nodeid.partition("[")[0]


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """With `--fast`, do not even load a file in which all are slow: what it imports takes long, too."""
    if not config.getoption("--fast") or not re.fullmatch(r"test_\w+\.py", collection_path.name):
        return None
    text, name = collection_path.read_text(encoding="utf-8"), collection_path.relative_to(config.rootpath).as_posix()
    tests = {f"{name}::{one}" for one in TESTS_OF.findall(text)}
    return True if OPENS_BENCH.search(text) or tests <= config.stash[KEEPER].slow else None


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Iterator[None]:
    """Look for no garbage in what is collected: it stays to the end."""
    gc.disable()
    result = yield
    gc.freeze()
    gc.enable()
    return result


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """With `--fast`, leave the slow tests out."""
    if config.getoption("--fast"):
        if not config.stash[KEEPER].file.exists():
            raise pytest.UsageError("--fast needs the list of slow tests: python dev.py test --record-pace writes it.")
        listed = config.stash[KEEPER].slow
        slow = {item for item in items if function_of(item.nodeid) in listed or in_a_browser(item)}
        config.hook.pytest_deselected(items=slow)
        items[:] = [item for item in items if item not in slow]


def in_a_browser(item: pytest.Item) -> bool:
    """Whether a test works programs whose time is not seen: a browser that several share, or a workbench with its."""
    return BROWSER in getattr(item, "fixturenames", ()) or hasattr(getattr(item, "module", None), BENCH)


def pytest_runtest_protocol(item: pytest.Item, nextitem: pytest.Item | None) -> bool:
    """Run a test and note how long the processor was at it; twice, if that is longer than it should be."""
    keeper = item.config.stash[KEEPER]
    item.ihook.pytest_runtest_logstart(nodeid=item.nodeid, location=item.location)
    before = set(keeper.made)
    reports, took = timed(item, nextitem)
    if took > keeper.noticed and function_of(item.nodeid) not in keeper.slow and all(one.passed for one in reports):
        item._initrequest()
        reports, again = timed(item, nextitem)
        took = min(took, again)
    shared = {name: keeper.made[name] for name in fixtures_of(item) & keeper.made.keys()}
    if item.config.getoption("--record-pace"):
        took -= sum(keeper.made[name] for name in keeper.made.keys() - before)
    for report in reports:
        report.user_properties += [(TOOK, took), (SHARED, shared)]
        item.ihook.pytest_runtest_logreport(report=report)
    item.ihook.pytest_runtest_logfinish(nodeid=item.nodeid, location=item.location)
    return True


def timed(item: pytest.Item, nextitem: pytest.Item | None) -> tuple[list[pytest.TestReport], float]:
    """The reports of one run of a test, and how long the processor was at it, the children that ended included."""
    before = os.times()
    reports = runtestprotocol(item, nextitem=nextitem, log=False)
    after = os.times()
    return reports, sum(after[:4]) - sum(before[:4])


@pytest.hookimpl(wrapper=True)
def pytest_fixture_setup(fixturedef: pytest.FixtureDef[object], request: pytest.FixtureRequest) -> Iterator[None]:
    """Note how long it takes to make what several tests share: each of them would take that long by itself."""
    before = os.times()
    result = yield
    if fixturedef.scope != "function":
        request.config.stash[KEEPER].made[name_of(fixturedef)] = sum(os.times()[:4]) - sum(before[:4])
    return result


def fixtures_of(item: pytest.Item) -> set[str]:
    """The fixtures that a test stands on."""
    known = getattr(item, "_fixtureinfo", None)
    return {name_of(one) for several in known.name2fixturedefs.values() for one in several} if known else set()


def name_of(fixturedef: pytest.FixtureDef[object]) -> str:
    """A fixture's name, with the file that it is of."""
    return f"{fixturedef.baseid}::{fixturedef.argname}"


class Hearing:
    """Keeps what each test took, in the process that hears of all of them."""

    def __init__(self, keeper: Keeper) -> None:
        self.keeper = keeper

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep what a test took; each of its reports says it."""
        for sort, took in report.user_properties:
            if sort == TOOK:
                self.keeper.took[report.nodeid] = float(str(took))
            elif sort == SHARED:
                self.keeper.shared.setdefault(function_of(report.nodeid), {}).update(took)


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Record the pace, or fail the run for tests that are far too slow and not known to be."""
    keeper = session.config.stash[KEEPER]
    if hasattr(session.config, "workerinput"):
        return
    if session.config.getoption("--record-pace"):
        keeper.record()
    elif keeper.unlisted(TOO_SLOW) and session.exitstatus == pytest.ExitCode.OK:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Say which tests are slow and not known to be."""
    for name, took in sorted(config.stash[KEEPER].unlisted().items()):
        terminalreporter.write_line(
            f"{name} takes {took:.1f} s of the processor and is not in {LIST.name}: make it quicker, or record it with "
            "python dev.py test --record-pace."
        )
