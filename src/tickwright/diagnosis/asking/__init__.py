"""Asking: a build is diagnosed as a conversation, question by question, from all mistakes that can be made with a plan.

`universe` and `moved` list the mistakes, `shown` runs them, `questions` says what may be asked, what each build would
answer and how much that tells, `conversation` holds answers, chances and the end, `wording` has the texts.
"""

from __future__ import annotations

from tickwright.diagnosis.asking.conversation import Conversation, Leading, Round
from tickwright.diagnosis.asking.questions import Question
from tickwright.diagnosis.asking.wording import picture

__all__ = ["Conversation", "Leading", "Question", "Round", "picture"]
