"""NiceGUI's fields for values, each of which leaves out what the page cannot have sent, with one line in the log."""

from __future__ import annotations

import logging
import math
from typing import Any

from nicegui import events, ui

LOG = logging.getLogger("tickwright.workbench")


class _Careful:
    """Keeps its value where the page tells one of another form; goes before one of NiceGUI's elements."""

    value: Any

    def _event_args_to_value(self, event: events.GenericEventArguments) -> Any:
        if self._is_readable(event.args):
            return super()._event_args_to_value(event)  # type: ignore[misc]
        LOG.warning("A value of another form than its field takes came to the workbench and was left out.")
        return self.value

    def _is_readable(self, told: Any) -> bool:
        return told is None or isinstance(told, str)


class Text(_Careful, ui.input):
    """A line of text."""


class Notes(_Careful, ui.textarea):
    """Some lines of text."""


class Tabs(_Careful, ui.tabs):
    """Names of panels, one of which is shown."""


class Number(_Careful, ui.number):
    """A number."""

    def _is_readable(self, told: Any) -> bool:
        try:
            return told is None or told == "" or (isinstance(told, str | int | float) and math.isfinite(float(told)))
        except (ValueError, OverflowError):
            return False


class Check(_Careful, ui.checkbox):
    """Yes or no."""

    def _is_readable(self, told: Any) -> bool:
        return isinstance(told, bool)


class _OneOf(_Careful):
    """One of several values, told by its place among them."""

    _values: list[Any]

    def _is_place(self, told: Any) -> bool:
        return type(told) is int and 0 <= told < len(self._values)


class Choice(_OneOf, ui.select):
    """One of several values in a list that opens."""

    def _is_readable(self, told: Any) -> bool:
        return isinstance(told, dict) and self._is_place(told.get("value"))


class Radio(_OneOf, ui.radio):
    """One of several values, all of which are shown."""

    def _is_readable(self, told: Any) -> bool:
        return self._is_place(told)
