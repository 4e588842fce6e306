"""Reading facets out of bytes of text: files of "facet" blocks, and of "v" and "f" lines."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel
from buildplan.kernels.text import (
    BAD_COUNT,
    BAD_INDEX,
    BAD_NUMBER,
    BAD_WORD,
    CUT_SHORT,
    FINE,
    READ_EXACT,
    READ_FAILED,
    READ_LATER,
    TOO_MANY,
    end_of_word,
    grow,
    read_number,
    skip_blank,
    skip_line,
    stop_at,
)


def _word(text: str) -> int:
    """A word of at most eight letters as the integer that ``next_word`` makes of it."""
    return int.from_bytes(text.encode(), "little")


SOLID, ENDSOLID, FACET, ENDFACET = (
    _word("solid"),
    _word("endsolid"),
    _word("facet"),
    _word("endfacet"),
)
NORMAL, OUTER, LOOP, ENDLOOP, VERTEX = (
    _word("normal"),
    _word("outer"),
    _word("loop"),
    _word("endloop"),
    _word("vertex"),
)


@kernel
def next_word(data: NDArray[np.uint8], at: int) -> tuple[int, int]:
    """Lower-case word at ``at`` as an integer (0 where it is longer than 8), and its end."""
    end = end_of_word(data, at)
    if end - at > 8:
        return 0, end
    word = 0
    for i in range(at, end):
        letter = int(data[i])
        if 65 <= letter <= 90:
            letter += 32
        word |= letter << (8 * (i - at))
    return word, end


@kernel
def scan_facets(
    data: NDArray[np.uint8], capacity: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64], NDArray[np.int64]]:
    """Corners of every facet of a text file of the "solid ... endsolid" kind.

    Args:
        data: (bytes,) the file.
        capacity: Greatest number of facets that there is room for.

    Returns:
        corners: (facets, 9) x, y, z of the three corners.
        normals: (facets, 3) as stored, NaN where one is missing or no number.
        later: (k, 3) slot in ``corners.ravel()``, first and last byte of numbers for Python.
        end: (4,) how the scan ended, at which byte, in which facet (from 0), a count.
    """
    corners = np.empty((capacity, 9))
    normals = np.empty((capacity, 3))
    later = np.empty((64, 3), np.int64)
    waiting = 0
    facets = 0
    solids = 0
    end = np.zeros(4, np.int64)
    inside = False
    at = skip_blank(data, 0)
    while at < len(data):
        word, stop = next_word(data, at)
        if not inside:
            if word != SOLID:
                stop_at(end, BAD_WORD, at, facets, 0)
                break
            inside = True
            solids += 1
            at = skip_blank(data, skip_line(data, stop))
            continue
        if word == ENDSOLID:
            inside = False
            at = skip_blank(data, skip_line(data, stop))
            continue
        if word != FACET:
            stop_at(end, BAD_WORD, at, facets, 0)
            break
        if facets == capacity:
            stop_at(end, TOO_MANY, at, facets, 0)
            break
        # "normal x y z", of which anything may be missing: the winding counts
        found = 0
        words = 0
        for axis in range(3):
            normals[facets, axis] = np.nan
        at = skip_blank(data, stop)
        word, stop = next_word(data, at)
        while word != OUTER and words < 5 and at < len(data):
            if word != NORMAL:
                value, how = read_number(data, at, stop)
                if how != READ_FAILED and found < 3:
                    normals[facets, found] = value
                found += 1
            words += 1
            at = skip_blank(data, stop)
            word, stop = next_word(data, at)
        if word == OUTER:
            at = skip_blank(data, stop)
            word, stop = next_word(data, at)
        if word != LOOP:
            stop_at(end, BAD_WORD if at < len(data) else CUT_SHORT, at, facets, 0)
            break
        at = skip_blank(data, stop)
        word, stop = next_word(data, at)
        vertices = 0
        while word == VERTEX:
            for axis in range(3):
                at = skip_blank(data, stop)
                stop = end_of_word(data, at)
                value, how = read_number(data, at, stop)
                if how == READ_FAILED or at == len(data):
                    stop_at(end, BAD_NUMBER if at < len(data) else CUT_SHORT, at, facets, vertices)
                    break
                if vertices < 3:
                    slot = 3 * vertices + axis
                    corners[facets, slot] = value
                    if how == READ_LATER:
                        later = grow(later, waiting)
                        later[waiting, 0] = 9 * facets + slot
                        later[waiting, 1] = at
                        later[waiting, 2] = stop
                        waiting += 1
            if end[0] != FINE:
                break
            vertices += 1
            at = skip_blank(data, stop)
            word, stop = next_word(data, at)
        if end[0] != FINE:
            break
        if word != ENDLOOP:
            stop_at(end, BAD_WORD if at < len(data) else CUT_SHORT, at, facets, vertices)
            break
        if vertices != 3:
            stop_at(end, BAD_COUNT, at, facets, vertices)
            break
        at = skip_blank(data, stop)
        word, stop = next_word(data, at)
        if word != ENDFACET:
            stop_at(end, BAD_WORD if at < len(data) else CUT_SHORT, at, facets, 0)
            break
        facets += 1
        at = skip_blank(data, stop)
    if end[0] == FINE and (inside or solids == 0):
        stop_at(end, CUT_SHORT, at, facets, 0)
    return corners[:facets], normals[:facets], later[:waiting], end


@kernel
def count_object_lines(data: NDArray[np.uint8]) -> tuple[int, int, int]:
    """Vertices, faces and face corners of a text file with "v" and "f" lines: room to make."""
    vertices = 0
    faces = 0
    corners = 0
    at = 0
    while at < len(data):
        at = skip_blank(data, at)
        stop = end_of_word(data, at)
        if stop - at == 1 and data[at] == 118:
            vertices += 1
        elif stop - at == 1 and data[at] == 102:
            faces += 1
            line_end = skip_line(data, stop)
            i = skip_blank(data, stop)
            while i < line_end:
                corners += 1
                i = skip_blank(data, end_of_word(data, i))
        at = skip_line(data, stop)
    return vertices, faces, corners


@kernel
def scan_object(
    data: NDArray[np.uint8], vertices: int, faces: int, corners: int
) -> tuple[
    NDArray[np.float64],
    NDArray[np.int64],
    NDArray[np.int64],
    NDArray[np.int64],
    NDArray[np.int64],
]:
    """Vertices and polygons of a text file with "v" and "f" lines.

    Args:
        data: (bytes,) the file, continued lines joined.
        vertices: Room, as ``count_object_lines`` counts it; likewise ``faces`` and ``corners``.
        faces: Room.
        corners: Room.

    Returns:
        points: (v, 3).
        corner: (c,) vertex numbers from 0, polygon after polygon.
        offset: (f + 1,) where each polygon begins in ``corner``.
        later: (k, 3) slot in ``points.ravel()``, first and last byte of numbers left to Python.
        end: (4,) how the scan ended, at which byte, the vertices so far, the index found.
    """
    points = np.empty((vertices, 3))
    corner = np.empty(corners, np.int64)
    offset = np.zeros(faces + 1, np.int64)
    later = np.empty((64, 3), np.int64)
    waiting = 0
    known = 0
    polygons = 0
    used = 0
    end = np.zeros(4, np.int64)
    at = 0
    while at < len(data):
        at = skip_blank(data, at)
        line_start = at
        stop = end_of_word(data, at)
        if stop - at == 1 and data[at] == 118:
            line_end = skip_line(data, stop)
            for axis in range(3):
                at = skip_blank(data, stop)
                stop = end_of_word(data, at)
                if at >= line_end:
                    stop_at(end, BAD_COUNT, line_start, known, axis)
                    break
                value, how = read_number(data, at, stop)
                if how == READ_FAILED:
                    stop_at(end, BAD_NUMBER, at, known, 0)
                    break
                points[known, axis] = value
                if how == READ_LATER:
                    later = grow(later, waiting)
                    later[waiting, 0] = 3 * known + axis
                    later[waiting, 1] = at
                    later[waiting, 2] = stop
                    waiting += 1
            if end[0] != FINE:
                break
            known += 1
        elif stop - at == 1 and data[at] == 102:
            line_end = skip_line(data, stop)
            first = used
            while True:
                at = skip_blank(data, stop)
                if at >= line_end or data[at] == 35 or used == corners:
                    break
                stop = end_of_word(data, at)
                slash = at
                while slash < stop and data[slash] != 47:
                    slash += 1
                value, how = read_number(data, at, slash)
                whole = how == READ_EXACT and value == np.floor(value)
                if not whole:
                    stop_at(end, BAD_NUMBER, at, known, 0)
                    break
                number = int(value) - 1 if value > 0 else known + int(value)
                if value == 0 or number < 0 or number >= vertices:
                    stop_at(end, BAD_INDEX, at, known if value < 0 else vertices, int(value))
                    break
                corner[used] = number
                used += 1
            if end[0] != FINE:
                break
            if used - first < 3:
                stop_at(end, BAD_COUNT, line_start, known, used - first)
                break
            polygons += 1
            offset[polygons] = used
        at = skip_line(data, stop)
    return points[:known], corner[:used], offset[: polygons + 1], later[:waiting], end
