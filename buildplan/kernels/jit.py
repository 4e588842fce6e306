"""The one way a kernel is compiled: once, into a cache on disk where one can be written."""

from collections.abc import Callable
from typing import Any, TypeVar

import numba

Function = TypeVar("Function", bound=Callable[..., Any])

KERNELS: list[Any] = []
"""Every compiled function with a cache entry of its own, in the order of import."""


def _compile(function: Function, **options: Any) -> Function:
    try:
        compiled = numba.njit(cache=True, nogil=True, **options)(function)
    except RuntimeError:
        # no folder for the cache can be written: compile anew in each process instead
        compiled = numba.njit(nogil=True, **options)(function)
    if "inline" not in options:
        KERNELS.append(compiled)
    return compiled  # type: ignore[no-any-return]


def kernel(function: Function) -> Function:
    """Compile a loop over flat arrays; it runs without the interpreter lock."""
    return _compile(function)


def kernel_inline(function: Function) -> Function:
    """Compile a small helper that is copied into the kernels that call it."""
    return _compile(function, inline="always")
