"""The long lists of a 3MF mesh, vertices and triangles, gathered row by row or by the thousand."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.xml_rows import WANTS_MORE, scan_elements
from buildplan.part.raw import DECIMAL

VERTEX_KEYS = ("x", "y", "z")
TRIANGLE_KEYS = ("v1", "v2", "v3")
NAMES = {VERTEX_KEYS: b"vertex", TRIANGLE_KEYS: b"triangle"}


class Rows:
    """Rows of three numbers under the given keys, in the order of the file."""

    def __init__(self, keys: tuple[str, str, str]) -> None:
        self.keys = keys
        self.count = 0
        self._blocks: list[NDArray[np.float64]] = []
        self._single: list[list[float]] = []
        self._name = np.frombuffer(b"<" + NAMES[keys], np.uint8)
        self._keys = np.array([list(key.ljust(2).encode()) for key in keys], np.uint8)

    def begin(self, prefix: bytes) -> None:
        """A list opens, under that name space prefix."""
        self._name = np.frombuffer(b"<" + prefix + NAMES[self.keys], np.uint8)

    def scan(self, data: bytes) -> tuple[int, bool]:
        """Take plain rows from the start of ``data``: where they end, and whether more may come."""
        values, later, stop, how = scan_elements(
            np.frombuffer(data, np.uint8), 0, self._name, self._keys, len(self.keys[0])
        )
        flat = values.reshape(-1)
        for slot, first, last in later.tolist():
            word = data[first:last]
            flat[slot] = float(word) if DECIMAL.fullmatch(word) else math.nan
        self._flush()
        self._blocks.append(values.copy())
        self.count += len(values)
        return int(stop), how == WANTS_MORE

    def add(self, row: list[float]) -> None:
        """One more row."""
        self._single.append(row)
        self.count += 1

    def take(self) -> NDArray[np.float64]:
        """All rows so far, (n, 3); the list is empty afterwards."""
        self._flush()
        blocks = self._blocks
        self._blocks, self.count = [], 0
        return np.vstack(blocks) if blocks else np.empty((0, 3))

    def _flush(self) -> None:
        if self._single:
            self._blocks.append(np.array(self._single))
            self._single = []
