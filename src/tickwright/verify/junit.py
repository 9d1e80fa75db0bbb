"""Verdicts as a JUnit XML report, for the tools that read one."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from tickwright.charts.checking import ChartVerdict
from tickwright.verify.expectations import Verdict

_FORBIDDEN = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def junit_text(
    checked: Mapping[str, Sequence[Verdict]], charts: Mapping[str, Sequence[ChartVerdict]] | None = None
) -> str:
    """One test suite for each plan, one test case for each verdict and each claim; the same input gives the same text.

    Characters that XML cannot hold are left out.
    """
    from xml.etree import ElementTree

    root = ElementTree.Element("testsuites")
    for path, verdicts in checked.items():
        cases = [*map(_verdict_case, verdicts), *_claim_cases((charts or {}).get(path, ()))]
        failed = sum(case.failure is not None for case in cases)
        counts = {"tests": str(len(cases)), "failures": str(failed), "errors": "0", "skipped": "0"}
        suite = ElementTree.SubElement(root, "testsuite", {"name": _clean(path), **counts})
        for name, failure, sort in cases:
            case = ElementTree.SubElement(suite, "testcase", {"classname": _clean(path), "name": _clean(name)})
            if failure is not None:
                ElementTree.SubElement(case, "failure", {"message": _clean(failure), "type": sort})
    ElementTree.indent(root)
    return '<?xml version="1.0" encoding="utf-8"?>\n' + ElementTree.tostring(root, encoding="unicode") + "\n"


class _Case(NamedTuple):
    """A test case: its name, why it failed (None if it passed), and the sort of failure."""

    name: str
    failure: str | None
    sort: str


def _verdict_case(verdict: Verdict) -> _Case:
    failure = None if verdict.passed else f"expected {verdict.expected}, measured {verdict.measured}"
    return _Case(f"{verdict.trigger} -> {verdict.output}: {verdict.key}", failure, "expectation")


def _claim_cases(charts: Sequence[ChartVerdict]) -> Iterator[_Case]:
    for chart in charts:
        for claim in chart.claims:
            follows = f" (follows {claim.follows})" if claim.follows else ""
            yield _Case(f"{chart.chart}: {claim.claim}", None if claim.passed else claim.detail + follows, "claim")


def _clean(text: str) -> str:
    return _FORBIDDEN.sub("", text)
