"""The least gap over a travel, with a proof: no angle between the poses tried was missed.

Over a stretch from a to b in which no point of the mover goes farther than ``path``, the gap is at
least (gap(a) + gap(b) - path) / 2, since either end's gap falls by no more than the way from that
end. The stretch with the lowest such bound is halved until every bound is settled.

Source: Piyavskii, "An algorithm for finding the absolute extremum of a function", 1972.
"""

import heapq
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

COARSE_DEG = 0.5
"""A stretch that is too narrow at both ends counts as too narrow throughout from this width on."""

FINE_DEG = 0.01
"""How sharply the ends of a violated stretch are found."""

CERTAIN_FRAC = 0.02
"""A wide least gap is settled to this share of itself, which says as much for fewer poses."""

GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
"""Share of a bracket that a golden-section step keeps."""

POLISH_STEPS = 24
"""Golden-section steps about the least gap found: they narrow its bracket 100 000 times."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece of the mover: its gap at an angle, and how far its points go between two angles.

    Attributes:
        gap_mm: At an angle in degrees, or any smaller number that is at least the reach.
        path_mm: Greatest way of any of its points between two angles; adds up along the travel.
    """

    gap_mm: Callable[[float], float]
    path_mm: Callable[[float, float], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What to settle.

    Attributes:
        required_mm: Gap asked for.
        certain_mm: How sharply what is required is settled, and gaps about it.
        reach_mm: Gaps of this size are not looked into.
        most_poses: Poses after which the search stops and says what is not settled.
    """

    from_deg: float
    to_deg: float
    required_mm: float
    certain_mm: float
    reach_mm: float
    most_poses: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What was settled.

    Attributes:
        piece: Index of the piece with the least gap.
        violated_deg: (from, to) of stretches that are too narrow, merged.
        unproven_deg: (from, to) of stretches left open, merged.
    """

    least_mm: float
    at_deg: float
    piece: int
    proven_mm: float
    violated_deg: tuple[tuple[float, float], ...]
    unproven_deg: tuple[tuple[float, float], ...]
    poses: int


@dataclass(order=True, slots=True)
class _Stretch:
    bound_mm: float
    piece: int
    from_deg: float
    to_deg: float
    from_mm: float
    to_mm: float


def search_gaps(pieces: Sequence[Piece], question: Question) -> Answer:
    """Least gap over a travel, its proof, and the stretches below what is required."""
    search = _Search(pieces, question)
    search.run()
    return search.answer()


class _Search:
    """State of one search: gaps by piece and angle, open stretches, settled stretches."""

    def __init__(self, pieces: Sequence[Piece], question: Question) -> None:
        self.pieces = pieces
        self.question = question
        self.known: list[dict[float, float]] = [{} for _ in pieces]
        self.least_mm, self.at_deg, self.best = math.inf, question.from_deg, 0
        self.open: list[_Stretch] = []
        self.settled: list[_Stretch] = []
        self.level_mm = question.required_mm - question.certain_mm / 2.0

    def gap(self, piece: int, angle: float) -> float:
        """Gap of a piece at an angle, computed once."""
        known = self.known[piece]
        if angle not in known:
            gap = known[angle] = self.pieces[piece].gap_mm(angle)
            if gap < self.least_mm or (gap == self.least_mm and angle < self.at_deg):
                self.least_mm, self.at_deg, self.best = gap, angle, piece
        return known[angle]

    def poses(self) -> int:
        return sum(len(known) for known in self.known)

    def push(self, piece: int, start: float, end: float) -> None:
        first, last = self.gap(piece, start), self.gap(piece, end)
        path = self.pieces[piece].path_mm(start, end)
        bound = max(0.0, (first + last - path) / 2.0)
        heapq.heappush(self.open, _Stretch(bound, piece, start, end, first, last))

    def run(self) -> None:
        """Halve the stretch with the lowest bound until all are settled or the poses are used."""
        ask = self.question
        for piece in range(len(self.pieces)):
            self.push(piece, ask.from_deg, ask.to_deg)
        while self.open:
            worst = self.open[0]
            least = min(self.least_mm, ask.reach_mm)
            least_known = worst.bound_mm >= least - max(ask.certain_mm, CERTAIN_FRAC * least)
            clear = worst.bound_mm >= ask.required_mm - ask.certain_mm
            if least_known and clear:
                break
            heapq.heappop(self.open)
            if (least_known and self.told(worst)) or self.poses() >= ask.most_poses:
                self.settled.append(worst)
                continue
            middle = (worst.from_deg + worst.to_deg) / 2.0
            self.push(worst.piece, worst.from_deg, middle)
            self.push(worst.piece, middle, worst.to_deg)
        if 0.0 < self.least_mm < ask.reach_mm:
            self.polish()

    def low_ends(self, stretch: _Stretch) -> int:
        return (stretch.from_mm < self.level_mm) + (stretch.to_mm < self.level_mm)

    def told(self, stretch: _Stretch) -> bool:
        """Whether a stretch is known to be too narrow as sharply as is worth while."""
        width, low = stretch.to_deg - stretch.from_deg, self.low_ends(stretch)
        return (low == 2 and width <= COARSE_DEG) or (low == 1 and width <= FINE_DEG)

    def polish(self) -> None:
        """Golden-section search between the neighbours of the least gap found."""
        angles = sorted(self.known[self.best])
        place, piece = angles.index(self.at_deg), self.best
        low, high = angles[max(place - 1, 0)], angles[min(place + 1, len(angles) - 1)]
        left, right = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
        for _ in range(POLISH_STEPS):
            if self.gap(piece, left) <= self.gap(piece, right):
                high, right = right, left
                left = high - GOLDEN * (high - low)
            else:
                low, left = left, right
                right = low + GOLDEN * (high - low)

    def answer(self) -> Answer:
        rest = self.settled + self.open
        clear = self.question.required_mm - self.question.certain_mm
        proven = min([self.least_mm, *(stretch.bound_mm for stretch in rest)])
        violated, unproven = [], []
        for stretch in rest:
            if stretch.bound_mm >= clear:
                continue
            span = (stretch.from_deg, stretch.to_deg)
            if self.told(stretch):
                violated.append(span)
                continue
            unproven.append(span)
            ends = ((stretch.from_deg, stretch.from_mm), (stretch.to_deg, stretch.to_mm))
            violated += [(angle, angle) for angle, gap in ends if gap < self.level_mm]
        return Answer(
            least_mm=self.least_mm,
            at_deg=self.at_deg,
            piece=self.best,
            proven_mm=proven,
            violated_deg=merged(violated),
            unproven_deg=merged(unproven),
            poses=self.poses(),
        )


def merged(spans: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Spans that touch or overlap made one, rising."""
    found: list[tuple[float, float]] = []
    for start, end in sorted(spans):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((start, end))
    return tuple(found)


def between(
    spans: Sequence[tuple[float, float]], start: float, end: float
) -> tuple[tuple[float, float], ...]:
    """What rising spans leave of a travel."""
    found, at = [], start
    for low, high in spans:
        if low > at:
            found.append((at, low))
        at = max(at, high)
    if at < end:
        found.append((at, end))
    return tuple(found)
