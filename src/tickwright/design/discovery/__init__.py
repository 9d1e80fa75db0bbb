"""Discover: the smallest layout in a box that does something, by trying them all; with a certificate."""

from tickwright.design.discovery.alphabet import KINDS_TRIED
from tickwright.design.discovery.annealing import Annealing, anneal
from tickwright.design.discovery.behaviours import BEHAVIOURS
from tickwright.design.discovery.certificate import Certificate, certify, encoded, resumed
from tickwright.design.discovery.question import ask, size_text
from tickwright.design.discovery.searching import Search, go_on

__all__ = [
    "BEHAVIOURS",
    "KINDS_TRIED",
    "Annealing",
    "Certificate",
    "Search",
    "anneal",
    "ask",
    "certify",
    "encoded",
    "go_on",
    "resumed",
    "size_text",
]  # fmt: skip
