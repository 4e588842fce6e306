"""Rows of scalars and counted lists, as PLY files keep them: walked, one list picked out."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel


@kernel
def _read_integer(
    data: NDArray[np.uint8], at: int, size: int, signed: bool, big_endian: bool
) -> int:
    """The whole number in ``size`` bytes."""
    value = 0
    for i in range(size):
        byte = data[at + i] if big_endian else data[at + size - 1 - i]
        value = value * 256 + int(byte)
    if signed and value >= 1 << (8 * size - 1):
        value -= 1 << (8 * size)
    return value


@kernel
def walk_byte_rows(
    data: NDArray[np.uint8],
    start: int,
    rows: int,
    layout: NDArray[np.int64],
    big_endian: bool,
    room: int,
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Items of the wanted list of every row.

    Args:
        data: (bytes,) the file.
        start: First byte of the first row.
        rows: Number of rows, stated by the file.
        layout: (p, 5) per property: size of a list's count (0: no list), whether the count is
            signed, size of an item, whether an item is signed, whether this is the wanted list.
        big_endian: Byte order.
        room: Greatest number of items that there is room for.

    Returns:
        items: (k,) of all rows, one after another.
        offset: (rows done + 1,) where each row's items begin.
        end: (2,) the byte after the last whole row; a row's wrong count of items, or 0.
    """
    items = np.empty(room, np.int64)
    offset = np.zeros(rows + 1, np.int64)
    end = np.zeros(2, np.int64)
    used = 0
    at = start
    for row in range(rows):
        row_start = at
        for prop in range(len(layout)):
            size = layout[prop, 2]
            count = 1
            if layout[prop, 0] > 0:
                if at + layout[prop, 0] > len(data):
                    end[0] = row_start
                    return items[:used], offset[: row + 1], end
                count = _read_integer(data, at, layout[prop, 0], layout[prop, 1] > 0, big_endian)
                at += layout[prop, 0]
            if count < 0 or (layout[prop, 4] > 0 and count < 3):
                end[0] = row_start
                end[1] = count if count != 0 else -1
                return items[:used], offset[: row + 1], end
            if count > (len(data) - at) // size:
                end[0] = row_start
                return items[:used], offset[: row + 1], end
            if layout[prop, 4] > 0:
                if used + count > room:
                    end[0] = row_start
                    return items[:used], offset[: row + 1], end
                for item in range(count):
                    items[used] = _read_integer(
                        data, at + item * size, size, layout[prop, 3] > 0, big_endian
                    )
                    used += 1
            at += count * size
        offset[row + 1] = used
    end[0] = at
    return items[:used], offset, end


@kernel
def walk_number_rows(
    values: NDArray[np.float64], start: int, rows: int, layout: NDArray[np.int64], room: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """The same over numbers that were read from text.

    Args:
        values: (numbers,) of the whole file.
        start: First number of the first row.
        rows: Number of rows, stated by the file.
        layout: (p, 5) as in ``walk_byte_rows``; sizes only say list or not.
        room: Greatest number of items that there is room for.

    Returns:
        items, offset, end: as in ``walk_byte_rows``, end counted in numbers.
    """
    items = np.empty(room, np.int64)
    offset = np.zeros(rows + 1, np.int64)
    end = np.zeros(2, np.int64)
    used = 0
    at = start
    for row in range(rows):
        row_start = at
        for prop in range(len(layout)):
            count = 1
            if at >= len(values):
                end[0] = row_start
                return items[:used], offset[: row + 1], end
            if layout[prop, 0] > 0:
                if not 0.0 <= values[at] <= len(values):
                    end[0] = row_start
                    end[1] = -1
                    return items[:used], offset[: row + 1], end
                count = int(values[at])
                at += 1
            if layout[prop, 4] > 0 and count < 3:
                end[0] = row_start
                end[1] = count if count != 0 else -1
                return items[:used], offset[: row + 1], end
            if count > len(values) - at or (layout[prop, 4] > 0 and used + count > room):
                end[0] = row_start
                return items[:used], offset[: row + 1], end
            if layout[prop, 4] > 0:
                for item in range(count):
                    number = values[at + item]
                    whole = abs(number) < 9.0e15 and number == np.floor(number)
                    items[used] = np.int64(number) if whole else -1
                    used += 1
            at += count
        offset[row + 1] = used
    end[0] = at
    return items[:used], offset, end
