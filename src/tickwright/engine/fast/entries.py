"""The compiled functions that Python calls, kept on disk once compiled.

numba keeps compiled code by the file in which it is defined; so that a change in any file of this package counts, each
entry holds a number made from all of them.
"""

from __future__ import annotations

from hashlib import blake2b
from pathlib import Path
from typing import Any

import numpy as np
from numba import config, njit, types
from numba.core.typing.templates import signature
from numba.extending import intrinsic

from tickwright.engine.fast import arrays as a
from tickwright.engine.fast import signals, steps


@intrinsic
def _pointer(context, array):
    """Where an array's entries lie: all that compiled functions hand on, in a register, counting no references."""

    def code(context, builder, signature, arguments):
        return context.make_array(signature.args[0])(context, builder, arguments[0]).data

    return signature(types.CPointer(array.dtype), array), code


pointer: Any = (lambda array: array) if vars(config)["DISABLE_JIT"] else _pointer


def _sources() -> int:
    folder = Path(__file__).parent
    digest = blake2b(digest_size=7)
    for path in sorted((*folder.glob("*.py"), folder.parent / "circuit.py", folder.parents[1] / "parts.py")):
        digest.update(path.read_bytes())
    return int.from_bytes(digest.digest(), "big")


entry: Any = njit(cache=True, nogil=True, _nrt=False)  # type: ignore[call-overload]


def _entries(made_from: int) -> tuple[Any, ...]:
    @entry
    def start(m, e, h, x, c):
        c[a.MADE_FROM] = made_from
        steps.start(pointer(m), pointer(e), pointer(h), pointer(x), pointer(c))

    @entry
    def advance(m, e, h, x, c, until):
        c[a.MADE_FROM] = made_from
        return steps.advance(pointer(m), pointer(e), pointer(h), pointer(x), pointer(c), until)

    @entry
    def tell_all(m, e, h, x, c, actors):
        c[a.MADE_FROM] = made_from
        for i in actors:
            signals.tell(pointer(m), pointer(e), pointer(h), pointer(x), pointer(c), np.int64(i))

    return start, advance, tell_all


start, advance, tell_all = _entries(_sources())
