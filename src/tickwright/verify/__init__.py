"""Claims held against runs: a plan's expectations and their reports. Imports up to `measure`."""

from tickwright.verify.expectations import Verdict, check
from tickwright.verify.junit import junit_text

__all__ = ["Verdict", "check", "junit_text"]
