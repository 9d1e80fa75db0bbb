"""Verdicts as a JUnit XML report, for the tools that read one."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from tickwright.verify.expectations import Verdict

_FORBIDDEN = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def junit_text(checked: Mapping[str, Sequence[Verdict]]) -> str:
    """One test suite for each plan, one test case for each verdict; the same input gives the same text.

    Characters that XML cannot hold are left out.
    """
    from xml.etree import ElementTree

    root = ElementTree.Element("testsuites")
    for path, verdicts in checked.items():
        failed = sum(not verdict.passed for verdict in verdicts)
        counts = {"tests": str(len(verdicts)), "failures": str(failed), "errors": "0", "skipped": "0"}
        suite = ElementTree.SubElement(root, "testsuite", {"name": _clean(path), **counts})
        for verdict in verdicts:
            name = f"{verdict.trigger} -> {verdict.output}: {verdict.key}"
            case = ElementTree.SubElement(suite, "testcase", {"classname": _clean(path), "name": _clean(name)})
            if not verdict.passed:
                message = f"expected {verdict.expected}, measured {verdict.measured}"
                ElementTree.SubElement(case, "failure", {"message": message, "type": "expectation"})
    ElementTree.indent(root)
    return '<?xml version="1.0" encoding="utf-8"?>\n' + ElementTree.tostring(root, encoding="unicode") + "\n"


def _clean(text: str) -> str:
    return _FORBIDDEN.sub("", text)
