"""Reading numbers out of bytes of text, without a Python object per word.

Numbers are exact: a decimal with at most 15 digits and a power of ten up to 22 is one correctly
rounded multiplication or division, one with up to 18 digits a mended one; any other spelling is
left to Python, its place in a list.

Source: Clinger, "How to read floating point numbers accurately", 1990, the fast case.
"""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel

TENS = 10.0 ** np.arange(23)
LARGEST_EXACT = 1 << 53
SPACE, NEWLINE, RETURN = 32, 10, 13

FINE, BAD_WORD, BAD_NUMBER, BAD_COUNT, CUT_SHORT, TOO_MANY, BAD_INDEX = 0, 1, 2, 3, 4, 5, 6
"""How a scan ended."""

READ_EXACT, READ_LATER, READ_FAILED = 0, 1, 2
"""How one number was read: here, by Python later, or it is no number."""


@kernel
def skip_blank(data: NDArray[np.uint8], at: int) -> int:
    """Place of the next byte that is no white space, or the end."""
    while at < len(data) and (data[at] == SPACE or 9 <= data[at] <= 13):
        at += 1
    return at


@kernel
def end_of_word(data: NDArray[np.uint8], at: int) -> int:
    """Place of the next white space, or the end."""
    while at < len(data) and not (data[at] == SPACE or 9 <= data[at] <= 13):
        at += 1
    return at


@kernel
def skip_line(data: NDArray[np.uint8], at: int) -> int:
    """Place of the line end after ``at``, or the end of the data."""
    while at < len(data) and data[at] != NEWLINE and data[at] != RETURN:
        at += 1
    return at


@kernel
def stop_at(end: NDArray[np.int64], how: int, at: int, what: int, count: int) -> None:
    """Note how a scan ended."""
    end[0] = how
    end[1] = at
    end[2] = what
    end[3] = count


@kernel
def _divide_long(digits: int, divisor: float) -> float:
    """Nearest double to digits / divisor for digits up to 1e18; NaN where two are about as near.

    The quotient of the leading part is mended by its exact remainder (Dekker's product); what is
    rounded away must not be near half a unit in the last place, or Python decides.

    Source: Dekker, "A floating-point technique for extending the available precision", 1971.
    """
    high = float(digits)
    low = float(digits - int(high))
    quotient = high / divisor
    product = quotient * divisor
    big = 134217729.0 * quotient
    a0 = big - (big - quotient)
    a1 = quotient - a0
    big = 134217729.0 * divisor
    b0 = big - (big - divisor)
    b1 = divisor - b0
    tail = ((a0 * b0 - product) + a0 * b1 + a1 * b0) + a1 * b1
    mend = (((high - product) - tail) + low) / divisor
    value = quotient + mend
    lost = mend - (value - quotient)
    fraction, exponent = math.frexp(value)
    unit = math.ldexp(1.0, exponent - 53)
    if fraction == 0.5 or abs(abs(lost) - 0.5 * unit) < 1e-6 * unit:
        return np.nan
    return value


@kernel
def read_number(data: NDArray[np.uint8], at: int, end: int) -> tuple[float, int]:
    """The number that the bytes at..end spell, and how it was read."""
    i = at
    negative = False
    if i < end and (data[i] == 45 or data[i] == 43):
        negative = data[i] == 45
        i += 1
    digits = 0
    significant = 0
    seen = 0
    power = 0
    after_point = False
    while i < end:
        letter = int(data[i])
        if 48 <= letter <= 57:
            seen += 1
            if significant > 0 or letter != 48:
                significant += 1
            if significant <= 18:
                digits = digits * 10 + (letter - 48)
            if after_point:
                power -= 1
        elif letter == 46 and not after_point:
            after_point = True
        else:
            break
        i += 1
    if seen == 0:
        # "nan" and "inf" are Python's to name
        named = i < end and (data[i] | 32 == 110 or data[i] | 32 == 105)
        return np.nan, READ_LATER if named else READ_FAILED
    if i < end:
        if data[i] != 101 and data[i] != 69:
            return 0.0, READ_FAILED
        i += 1
        down = False
        if i < end and (data[i] == 45 or data[i] == 43):
            down = data[i] == 45
            i += 1
        if i == end or end - i > 6:
            return 0.0, READ_FAILED if i == end else READ_LATER
        exponent = 0
        while i < end:
            letter = int(data[i])
            if not 48 <= letter <= 57:
                return 0.0, READ_FAILED
            exponent = exponent * 10 + (letter - 48)
            i += 1
        power += -exponent if down else exponent
    if LARGEST_EXACT < digits and significant <= 18 and -22 <= power < 0:
        value = _divide_long(digits, TENS[-power])
        if not np.isnan(value):
            return (-value if negative else value), READ_EXACT
    if significant > 18 or digits > LARGEST_EXACT or power > 22 or power < -22:
        return float(digits) * 10.0 ** min(max(power, -400), 300), READ_LATER
    value = float(digits)
    value = value * TENS[power] if power >= 0 else value / TENS[-power]
    return (-value if negative else value), READ_EXACT


@kernel
def grow(array: NDArray[np.int64], used: int) -> NDArray[np.int64]:
    """The same rows in an array of twice the length when it is full."""
    if used < len(array):
        return array
    longer = np.empty((2 * len(array), array.shape[1]), np.int64)
    longer[:used] = array[:used]
    return longer


@kernel
def scan_numbers(
    data: NDArray[np.uint8], start: int, capacity: int, comment: int
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Every number in the text from byte ``start`` on, and the line that each stands in.

    Args:
        data: (bytes,).
        start: First byte to read.
        capacity: Greatest number of words that there is room for.
        comment: Byte that opens a comment up to the line's end, or -1.

    Returns:
        values: (numbers,).
        line: (numbers,) counted from 0 at ``start``.
        later: (k, 3) slot in ``values``, first and last byte of numbers left to Python.
        end: (4,) how the scan ended, at which byte, numbers so far, line.
    """
    values = np.empty(capacity)
    line = np.empty(capacity, np.int64)
    later = np.empty((64, 3), np.int64)
    waiting = 0
    count = 0
    row = 0
    end = np.zeros(4, np.int64)
    at = start
    while at < len(data):
        letter = int(data[at])
        if letter == comment:
            at = skip_line(data, at)
            continue
        if letter == SPACE or 9 <= letter <= 13:
            if letter == NEWLINE or (
                letter == RETURN and (at + 1 == len(data) or data[at + 1] != NEWLINE)
            ):
                row += 1
            at += 1
            continue
        stop = end_of_word(data, at)
        if count == capacity:
            stop_at(end, TOO_MANY, at, count, row)
            break
        value, how = read_number(data, at, stop)
        if how == READ_FAILED:
            stop_at(end, BAD_NUMBER, at, count, row)
            break
        if how == READ_LATER:
            later = grow(later, waiting)
            later[waiting, 0] = count
            later[waiting, 1] = at
            later[waiting, 2] = stop
            waiting += 1
        values[count] = value
        line[count] = row
        count += 1
        at = stop
    return values[:count], line[:count], later[:waiting], end
