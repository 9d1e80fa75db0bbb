"""Claims in other words: an event as it is told, and the claim with what can be had instead."""

from __future__ import annotations

from tickwright.design.compose.moments import RELEASED, At, Away, steps_text, worked_name


def told(event: str) -> str:
    """An event in words.

    >>> told("sw"), told("sw released")
    ('an act of sw', 'the release of sw')
    """
    return f"the release of {worked_name(event)}" if event.endswith(RELEASED) else f"an act of {event}"


def with_ending(text: str, end: At, steps: int) -> tuple[str | None, int]:
    """The claim with its end so long after its event, if its words can be changed; and by how much that differs."""
    head, until, tail = text.partition(f" until {end.trigger}")
    words = tail.split(",")[0].split(";")[0]
    if not until or (words and not words.startswith(" + ")):
        return None, 0
    return f"{head}{until} + {steps_text(steps)}{tail[len(words) :]}", abs(steps - end.steps)


def with_beginning(text: str, event: str, steps: int) -> str | None:
    """The claim with its beginning so long after an event, if it names that as the beginning.

    >>> with_beginning("lamp: on from press for 1 s", "press", 6)
    'lamp: on from press + 0.3 s for 1 s'
    """
    begins = f"from {event}"
    if f"{begins} + " in text:
        head, _, tail = text.partition(f"{begins} + ")
        _, space, more = tail.partition(" ")[2].partition(" ")
        instead = f"{head}{begins} + {steps_text(steps)}{space}{more}"
    else:
        instead = text.replace(begins, f"{begins} + {steps_text(steps)}", 1)
    return instead if instead != text else None


def with_length(span: Away, length: int) -> str | None:
    """The claim with another length, if it says the length in words that can be changed."""
    text = span.claim.text
    assert span.end is not None
    old = span.end.steps - span.begin.steps
    words = f" for {steps_text(old)}"
    return text.replace(words, f" for {steps_text(length)}", 1) if words in text else None
