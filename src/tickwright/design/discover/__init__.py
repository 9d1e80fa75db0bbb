"""Discover: the smallest layout in a box that does something, by trying them all; with a certificate."""

from tickwright.design.discover.alphabet import DEFAULT, SEARCHED
from tickwright.design.discover.behaviours import NAMES
from tickwright.design.discover.certificate import Certificate, certificate, encoded, question_of, resumed
from tickwright.design.discover.question import Question, ask, size_text
from tickwright.design.discover.searching import Search, go_on

__all__ = [
    "DEFAULT",
    "NAMES",
    "SEARCHED",
    "Certificate",
    "Question",
    "Search",
    "ask",
    "certificate",
    "encoded",
    "go_on",
    "question_of",
    "resumed",
    "size_text",
]  # fmt: skip
