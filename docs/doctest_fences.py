"""For the site: examples in docstrings are set as code, not as quotations."""

from __future__ import annotations

import re
from typing import Any

from griffe import Extension

EXAMPLE = re.compile(r"^>>> .*?(?=\n\n|\Z)", re.MULTILINE | re.DOTALL)


class Fences(Extension):
    """Puts fences round each example of a docstring."""

    def on_object(self, *, obj: Any, **_: Any) -> None:
        """Change the docstring of what was read, if it has one."""
        if obj.docstring is not None:
            obj.docstring.value = EXAMPLE.sub(lambda found: f"```python\n{found[0]}\n```", obj.docstring.value)
