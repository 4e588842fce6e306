"""Long runs of equal, empty XML elements with three numbers each, read without a parser's calls.

Only the plainest spelling is read, ``<name a="1" b="2" c="3" more="..."/>`` with white space
between elements; at anything else the scan stops there, and a real parser goes on.
"""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel
from buildplan.kernels.text import READ_EXACT, READ_LATER, read_number

QUOTE, AMPERSAND, SLASH, LESS, EQUALS, GREATER = 34, 38, 47, 60, 61, 62

WANTS_MORE, STOPPED = 0, 1
"""The data ended within or before an element; or something else than such an element came."""


@kernel
def _blank_end(data: NDArray[np.uint8], at: int) -> int:
    """Place of the next byte that is no XML white space, or the end."""
    while at < len(data) and (data[at] == 32 or data[at] == 9 or data[at] == 10 or data[at] == 13):
        at += 1
    return at


@kernel
def _value_end(data: NDArray[np.uint8], at: int) -> int:
    """Place of the quote that closes a plain value; the end; or -1 where it is not plain."""
    while at < len(data) and data[at] != QUOTE:
        if data[at] == AMPERSAND or data[at] == LESS:
            return -1
        at += 1
    return at


@kernel
def _same(data: NDArray[np.uint8], at: int, word: NDArray[np.uint8], length: int) -> bool:
    """Whether the bytes at ``at`` are the first ``length`` of ``word``; they must be there."""
    for i in range(length):
        if data[at + i] != word[i]:
            return False
    return True


@kernel
def _element_end(data: NDArray[np.uint8], at: int) -> int:
    """Place after the ``/>`` that ends an element, its further values plain; the end; or -1."""
    while at < len(data):
        letter = data[at]
        if letter == SLASH:
            if at + 1 == len(data):
                return len(data)
            return at + 2 if data[at + 1] == GREATER else -1
        if letter == GREATER or letter == LESS or letter == AMPERSAND:
            return -1
        if letter == QUOTE:
            at = _value_end(data, at + 1)
            if at < 0 or at == len(data):
                return at
        at += 1
    return at


@kernel
def scan_elements(
    data: NDArray[np.uint8],
    start: int,
    name: NDArray[np.uint8],
    keys: NDArray[np.uint8],
    key_length: int,
) -> tuple[NDArray[np.float64], NDArray[np.int64], int, int]:
    """The numbers of elements that follow each other from byte ``start`` on.

    Args:
        data: (bytes,).
        start: Where the first element may begin.
        name: (k,) with the opening ``<`` and the prefix.
        keys: (3, 2) names of the three attributes, in the order they must come in.
        key_length: 1 or 2.

    Returns:
        values: (elements, 3).
        later: (j, 3) slot in ``values.ravel()``, first and last byte of numbers left to Python.
        stop: The byte after the last whole element.
        how: WANTS_MORE or STOPPED.
    """
    shortest = len(name) + 3 * (key_length + 5) + 2
    values = np.empty(((len(data) - start) // shortest + 1, 3))
    later = np.empty((64, 3), np.int64)
    waiting = 0
    rows = 0
    stop = start
    how = WANTS_MORE
    while True:
        at = _blank_end(data, stop)
        if at + len(name) >= len(data):
            break
        if not _same(data, at, name, len(name)):
            how = STOPPED
            break
        at += len(name)
        kept = waiting
        whole = True
        for axis in range(3):
            blank = at
            at = _blank_end(data, at)
            if at + key_length + 2 > len(data):
                whole = False
                break
            if (
                at == blank
                or not _same(data, at, keys[axis], key_length)
                or data[at + key_length] != EQUALS
                or data[at + key_length + 1] != QUOTE
            ):
                how = STOPPED
                break
            first = at + key_length + 2
            last = _value_end(data, first)
            if last < 0:
                how = STOPPED
                break
            if last == len(data):
                whole = False
                break
            value, read = read_number(data, first, last)
            if read == READ_LATER:
                if kept == len(later):
                    longer = np.empty((2 * kept, 3), np.int64)
                    longer[:kept] = later
                    later = longer
                later[kept, 0] = 3 * rows + axis
                later[kept, 1] = first
                later[kept, 2] = last
                kept += 1
            elif read != READ_EXACT:
                how = STOPPED
                break
            values[rows, axis] = value
            at = last + 1
        if how == STOPPED or not whole:
            break
        at = _element_end(data, at)
        if at < 0:
            how = STOPPED
            break
        if at == len(data) and not (data[at - 1] == GREATER and data[at - 2] == SLASH):
            break
        waiting = kept
        rows += 1
        stop = at
    return values[:rows], later[:waiting], stop, how
