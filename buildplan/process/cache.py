"""The one documented cache: results of slow stages, kept by the content of their inputs.

A slider in a notebook changes one setting at a time, so the stages before it need not run again:
``Layers`` are kept by part and layer thickness, ``Walls`` and ``Supports`` by the layers and the
settings they depend on, ``Paths`` by every setting that moves a bead. Speeds, accelerations and
prices are in no key. A key is made of content only (a hash of the mesh, plain settings), so an
entry can never be stale: it is dropped only to keep the whole under ``limit_bytes()``.

This is the only state that the package shares between calls. It is safe to use from several
threads (the same thing asked for twice at once is made once) and is not shared between processes.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar

import numpy as np

from buildplan.errors import InputError

Result = TypeVar("Result")

DEFAULT_LIMIT_BYTES = 256 * 1024 * 1024
"""Room for a few large parts; a 600-layer shell with its paths takes about 100 MB."""

_lock = threading.Lock()
_kept: "OrderedDict[Hashable, Any]" = OrderedDict()
_arrays: dict[Hashable, dict[int, int]] = {}
"""Bytes by address of the arrays of every kept result, counted once when it is kept."""
_holders: dict[int, int] = {}
"""How many kept results hold the array at an address."""
_total = 0
_making: dict[Hashable, threading.Lock] = {}
_limit = DEFAULT_LIMIT_BYTES


def cached(key: Hashable, make: Callable[[], Result]) -> Result:
    """The result kept under a key, or made now and kept.

    Args:
        key: A stage's name and the content of all its inputs.
        make: Called without arguments where nothing is kept; whatever it raises passes through
            and nothing is kept.
    """
    with _lock:
        if key in _kept:
            _kept.move_to_end(key)
            return _kept[key]  # type: ignore[no-any-return]  # the key names the stage's result
        turn = _making.setdefault(key, threading.Lock())
    with turn:
        with _lock:
            if key in _kept:
                _kept.move_to_end(key)
                return _kept[key]  # type: ignore[no-any-return]  # as above
        try:
            result = make()
        finally:
            with _lock:
                _making.pop(key, None)
        with _lock:
            _keep(key, result)
            _shrink()
    return result


def clear_caches() -> None:
    """Forget every kept result and give its memory back."""
    with _lock:
        while _kept:
            _drop_oldest()


def cached_bytes() -> int:
    """Bytes of all arrays that are kept; an array that two results share counts once."""
    with _lock:
        return _total


def limit_bytes() -> int:
    """Most bytes that are kept."""
    return _limit


def set_limit_bytes(most: int) -> None:
    """Keep at most this much; 0 keeps nothing.

    Raises:
        InputError: ``most`` is negative.
    """
    global _limit  # the one documented cache
    if most < 0:
        raise InputError(
            f"the cache's limit is {most} bytes, allowed is 0 or more; 0 keeps nothing"
        )
    with _lock:
        _limit = most
        _shrink()


def _keep(key: Hashable, result: Any) -> None:
    """Keep a result and count the arrays that none of the others holds (with the lock held)."""
    global _total  # the one documented cache
    _kept[key] = result
    _arrays[key] = _bytes_by_address(result)
    for address, size in _arrays[key].items():
        _holders[address] = _holders.get(address, 0) + 1
        if _holders[address] == 1:
            _total += size


def _drop_oldest() -> None:
    """Forget the result that was used longest ago (with the lock held)."""
    global _total  # the one documented cache
    key, _ = _kept.popitem(last=False)
    for address, size in _arrays.pop(key).items():
        _holders[address] -= 1
        if not _holders[address]:
            del _holders[address]
            _total -= size


def _shrink() -> None:
    """Drop the results that were used longest ago until the rest fits (with the lock held)."""
    while _kept and _total > _limit:
        _drop_oldest()


def _bytes_by_address(result: Any) -> dict[int, int]:
    """Bytes of all distinct arrays in a result, and in what it is made of."""
    seen: dict[int, int] = {}
    stack = [result]
    while stack:
        value = stack.pop()
        if isinstance(value, np.ndarray):
            seen[value.__array_interface__["data"][0]] = value.nbytes
        elif is_dataclass(value):
            stack.extend(getattr(value, field.name) for field in fields(value))
        elif isinstance(value, list | tuple):
            stack.extend(value)
    return seen
