"""How functions are compiled that only compiled code calls.

By default numba optimises each function together with all that it calls and makes machine code of it, again and again
up the tree of calls. Here that is left to the entries, which call everything else: so compiling takes half the time.
"""

from __future__ import annotations

from typing import Any

from numba import _dynfunc, njit  # type: ignore[attr-defined]
from numba.core.compiler import CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import PassManager, register_pass
from numba.core.typed_passes import NativeLowering


@register_pass(mutates_CFG=True, analysis_only=False)
class _LowerOnly(NativeLowering):
    """Lowers a function, and leaves optimisation and machine code to whoever calls it."""

    _name = "lower_only"

    def run_pass(self, state: Any) -> bool:
        context = state.targetctx
        library = state.library = context.codegen().create_library(state.func_id.func_qualname)

        def finish() -> None:
            library._finalize_dynamic_globals()  # noqa: SLF001
            library._finalized = True  # noqa: SLF001

        def placeholder(library: Any, description: Any, environment: Any) -> Any:
            module = description.lookup_module()
            return _dynfunc.make_function(module, description.qualname, "compiled", 0, environment, (library,))

        library._optimize_final_module = lambda: None  # noqa: SLF001
        library._finalize_final_module = finish  # noqa: SLF001
        context.get_executable = placeholder
        try:
            return bool(super().run_pass(state))
        finally:
            del context.get_executable


class _InnerCompiler(CompilerBase):
    def define_pipelines(self) -> list[PassManager]:
        manager = DefaultPassBuilder.define_nopython_pipeline(self.state)
        manager.passes = [(_LowerOnly if step is NativeLowering else step, text) for step, text in manager.passes]
        manager.finalize()
        return [manager]


inner: Any = njit(  # type: ignore[call-overload]
    no_cpython_wrapper=True, no_cfunc_wrapper=True, pipeline_class=_InnerCompiler, _nrt=False
)
