"""How functions are compiled that only compiled code calls.

By default numba optimises each function together with all that it calls and makes machine code of it, again and again
up the tree of calls. Here that is left to the entries, which call everything else: so compiling takes half the time.
"""

from __future__ import annotations

from typing import Any

from numba import _dynfunc, config, njit, types  # type: ignore[attr-defined]
from numba.core.compiler import CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import PassManager, register_pass
from numba.core.typed_passes import NativeLowering
from numba.core.typing.templates import signature
from numba.extending import intrinsic


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


@intrinsic
def _pointer(context: Any, array: Any) -> Any:
    """Where an array's entries lie: all that compiled functions hand on, in a register, counting no references."""

    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return context.make_array(signature.args[0])(context, builder, arguments[0]).data

    return signature(types.CPointer(array.dtype), array), code


@intrinsic
def _shifted(context: Any, pointer: Any, entries: Any) -> Any:
    """The place so many entries on."""

    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return builder.gep(arguments[0], [arguments[1]])

    return signature(pointer, pointer, entries), code


interpreted = bool(vars(config)["DISABLE_JIT"])  # numba's own switch, to run what is compiled as plain Python
pointer: Any = (lambda array: array) if interpreted else _pointer
shifted: Any = (lambda array, entries: array[entries:]) if interpreted else _shifted
