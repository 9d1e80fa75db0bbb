"""Plans that the tests of charts share, laid at the Saltmarsh ferry landing."""

from __future__ import annotations

LAMP = '''format = "tickwright plan 1"
# The gangway lamp: two repeaters after the button.
[legend]
"#" = "block"
"b" = "short-button"
"L" = "lamp"
"r" = "repeater east delay=2"

[[layer]]
rows = """
####
"""

[[layer]]
rows = """
brrL
"""

[triggers]
press = [0, 0, 1]

[outputs]
lamp = [3, 0, 1]
'''

TORCH = """format = "tickwright plan 1"
[legend]
"#" = "block"
"v" = "lever on=down"
"t" = "torch on=west"
"L" = "lamp"
[[layer]]
rows = "..."
[[layer]]
rows = "#tL"
[[layer]]
rows = "v"
[triggers]
throw = [0, 0, 2]
[outputs]
lamp = [2, 0, 1]
"""

BUTTON_AND_TORCH = TORCH.replace("lever on=down", "short-button on=down")
SLOW = (
    LAMP.replace("delay=2", "delay=4").replace("brrL", "brrrrrL").replace("####", "#######").replace("[3, 0", "[6, 0")
)


def chart(shows: list[str], **more: object) -> str:
    """A [[chart]] as text."""
    lines = ["", "[[chart]]", *(f"{key} = {_toml(value)}" for key, value in {"name": "it", **more}.items())]
    return "\n".join([*lines, f"shows = {_toml(shows)}", ""])


def machine(name: str, states: list[str], transitions: list[str], **more: object) -> str:
    """A [[machine]] as text."""
    values = {"name": name, "states": states, "transitions": transitions, **more}
    return "\n".join(["", "[[machine]]", *(f"{key} = {_toml(value)}" for key, value in values.items()), ""])


def _toml(value: object) -> str:
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return f'"{value}"'
