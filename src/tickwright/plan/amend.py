"""Changes made inside the text of a TOML file: what is not changed stays as it was written, comments and all.

The tables of a plan file lie flat: top-level keys, tables of keys, lists of tables of keys. Each may be written under
a header, in braces, or with dotted keys. What is in braces is written anew when it changes, as no comment fits there.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher

from tickwright.places import Path, Scan
from tickwright.toml import quoted

Entries = Mapping[str, str]  # name -> the TOML text of its value

_BARE_NAME = re.compile(r"[A-Za-z0-9_-]+")


class Amendment:
    r"""Collects changes to a text that is TOML, with plain newlines; `result` is the text with all of them.

    >>> amendment = Amendment('[legend]\nw = "wire" # thin\n\n# The end.\n')
    >>> amendment.table("legend", {"w": '"wire"'}, {"w": '"wire"', "#": '"block"'})
    >>> amendment.result()
    '[legend]\nw = "wire" # thin\n"#" = "block"\n\n# The end.\n'
    """

    def __init__(self, text: str) -> None:
        self.text = text if text.endswith("\n") else text + "\n"
        self.spots = Scan(self.text).spots
        self._changes: list[tuple[int, int, str]] = []

    def result(self) -> str:
        """The text with all changes made."""
        text, at = [], 0
        for start, end, new in sorted(self._changes, key=lambda change: change[:2]):
            text += [self.text[at:start], new]
            at = end
        return "".join(text) + self.text[at:]

    def root(self, old: Entries, new: Entries, after: str) -> None:
        """Change top-level keys; new ones come after the key `after`."""
        self._change((), old, new, self._line_end(self.spots[after,].end))

    def table(self, name: str, old: Entries, new: Entries, quote: bool = False) -> None:
        """Change the table of that name from the entries `old` to the entries `new`; `quote` puts names in quotes."""
        if old == new:
            return
        if (name,) not in self.spots:
            self._append(f"\n[{name}]\n{entry_lines(new, quote)}")
        elif self._in_braces((name,)):
            self._replace((name,), _braces(new, quote))
        else:
            self._change((name,), old, new, self._last_line_end((name,)), quote)

    def tables(self, name: str, old: Sequence[Entries], new: Sequence[Entries]) -> None:
        """Change the list of tables of that name, element by element."""
        if old == new:
            return
        if (name,) not in self.spots:
            self._append("".join(f"\n[[{name}]]\n{entry_lines(entries)}" for entries in new))
        elif not self._under_header((name,)):
            self._replace((name,), "[" + ", ".join(map(_braces, new)) + "]")
        else:
            self._change_list(name, old, new)

    def _change_list(self, name: str, old: Sequence[Entries], new: Sequence[Entries]) -> None:
        first_header = self._line_start(self.spots[name, 0].key)
        last_header = self._line_start(self.spots[name, len(old) - 1].key)
        above = self.text[self._line_start(last_header - 1) : last_header].strip()
        gap = "\n" if not above or above.startswith("#") else ""
        steps = SequenceMatcher(
            None, [tuple(entries.items()) for entries in old], [tuple(entries.items()) for entries in new], False
        )
        for _, start, end, first, last in steps.get_opcodes():
            common = min(end - start, last - first)
            for index in range(common):
                path = (name, start + index)
                self._change(path, old[start + index], new[first + index], self._last_line_end(path))
            for index in range(start + common, end):
                self._remove_element((name, index))
            place = self._last_line_end((name, start + common - 1)) if start + common else first_header
            for entries in new[first + common : last]:
                lines = f"[[{name}]]\n{entry_lines(entries)}"
                self._insert(place, gap + lines if start + common else lines + gap)

    def _change(self, table: Path, old: Entries, new: Entries, place: int, quote: bool = False) -> None:
        """Change entries that stand one a line; new ones go in at the offset `place`, the start of a line."""
        before = self.text[self._line_start(place - 1) : place]
        start_of_line = before[: len(before) - len(before.lstrip(" \t"))]
        if table and not self._under_header(table):
            start_of_line += f"{table[0]}."
        for name in old:
            if name not in new:
                spot = self.spots[*table, name]
                self._changes.append((self._line_start(spot.key), self._line_end(spot.end), ""))
        for name, value in new.items():
            if value == old.get(name):
                continue
            if (*table, name) in self.spots:
                self._replace((*table, name), value)
            else:
                self._insert(place, start_of_line + entry_lines({name: value}, quote))

    def _remove_element(self, path: Path) -> None:
        start = self._line_start(self.spots[path].key)
        while self.text[:start].endswith("\n\n"):
            start -= 1
        self._changes.append((start, self._last_line_end(path), ""))

    def _replace(self, path: Path, new: str) -> None:
        spot = self.spots[path]
        self._changes.append((spot.value, spot.end, new))

    def _insert(self, place: int, new: str) -> None:
        self._changes.append((place, place, new))

    def _append(self, new: str) -> None:
        self._insert(len(self.text), new)

    def _under_header(self, path: Path) -> bool:
        spot = self.spots[path]
        return spot.key == spot.value and self.text[spot.key] == "["

    def _in_braces(self, path: Path) -> bool:
        return self.text[self.spots[path].value] == "{"

    def _last_line_end(self, table: Path) -> int:
        ends = [spot.end for path, spot in self.spots.items() if path[: len(table)] == table]
        return self._line_end(max(ends))

    def _line_start(self, offset: int) -> int:
        return self.text.rfind("\n", 0, offset) + 1

    def _line_end(self, offset: int) -> int:
        return self.text.index("\n", offset) + 1


def entry_lines(entries: Entries, quote: bool = False) -> str:
    """Entries as lines `name = value`, names in quotes where they need them or if `quote` is given."""
    return "".join(f"{_name(name, quote)} = {value}\n" for name, value in entries.items())


def _name(name: str, quote: bool) -> str:
    return quoted(name) if quote or not _BARE_NAME.fullmatch(name) else name


def _braces(entries: Entries, quote: bool = False) -> str:
    return "{" + ", ".join(f"{_name(name, quote)} = {value}" for name, value in entries.items()) + "}"
