"""Rows of the table: a plan really cut, joined, laid and estimated, and what it costs."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from buildplan.errors import MeshError, NoPlanError
from buildplan.part.model import Part
from buildplan.segments.cut import Cuts, CutUp, cut_up, lay_piece
from buildplan.segments.joints import Joint
from buildplan.segments.model import Piece, SplitRow
from buildplan.segments.planes import Plane
from buildplan.segments.question import FACE_H_MM2, Question
from buildplan.segments.restart import spread_of_run
from buildplan.segments.search import CutPlan
from buildplan.segments.solid import part_of
from buildplan.segments.splines import lay_splines

if TYPE_CHECKING:
    from manifold3d import Manifold

JOINT_TAKES_FRAC = 0.9
"""A piece that was large enough before its joints were cut may lose the rest of this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A plan that was made.

    Attributes:
        plan: What it was made from.
        excess_mm: By how much the worst piece is too large; 0 where all fit.
    """

    plan: CutPlan
    row: SplitRow
    pieces: tuple[Piece, ...]
    joints: tuple[Joint, ...]
    loose: tuple[Piece, ...]
    excess_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """Where plans are made from one body: what was cut and estimated once is not done again.

    Attributes:
        crumbs: Whether pieces below the least share are allowed (planes that the user gave).
        final: Whether pieces are estimated with their joints in them, and those that print well as
            placed are also tried with cut faces down.
    """

    question: Question
    crumbs: bool
    final: bool
    cut: dict[Cuts, CutUp] = field(default_factory=dict)
    laid: dict[str, Piece] = field(default_factory=dict)

    def make(self, plan: CutPlan) -> Made | str:
        """The plan made, or why it cannot be."""
        question = self.question
        name = question.part.name
        if not plan.cuts:
            return self._whole(plan)
        planes = tuple(plane for _, plane in plan.cuts)
        try:
            done = cut_up(question.solid, plan.cuts, question.specs_at, self.cut, name=name)
            solids = done.pieces if self.final else done.bare
            crumb = self._crumb(solids)
            if crumb:
                return crumb
            parts = [part_of(s, name=f"{name} {n}") for n, s in enumerate(solids, 1)]
        except (NoPlanError, MeshError) as error:
            return str(error)
        if question.workers == 1:
            pieces = [self._lay(part, planes) for part in parts]
        else:
            with ThreadPoolExecutor(question.workers) as pool:
                pieces = list(pool.map(lambda part: self._lay(part, planes), parts))
        splines = [spline for joint in done.joints for spline in joint.loose]
        loose = lay_splines(splines, question.printing, name=name)
        ordered = tuple(sorted(pieces, key=lambda piece: -round(piece.estimate.time_h, 9)))
        return self._made(plan, planes, ordered, done.joints, loose)

    def _whole(self, plan: CutPlan) -> Made:
        question = self.question
        whole = lay_piece(
            question.part,
            (),
            question.printing,
            question.model,
            most_h=question.limits.most_h,
        )
        return self._made(plan, (), (whole,), (), ())

    def _lay(self, part: Part, planes: Sequence[Plane]) -> Piece:
        question = self.question
        known = self.laid.get(part.key)
        if known is None:
            known = lay_piece(
                part,
                planes,
                question.printing,
                question.model,
                most_h=question.limits.most_h,
                thorough=self.final,
            )
            self.laid[part.key] = known
        estimate = replace(known.estimate, part=part.name)
        return replace(known, name=part.name, part=part, estimate=estimate)

    def _crumb(self, solids: Sequence["Manifold"]) -> str:
        if self.crumbs:
            return ""
        least = min(solid.volume() for solid in solids) / self.question.part.volume_mm3
        if least >= JOINT_TAKES_FRAC * self.question.limits.least_frac:
            return ""
        allowed = 100.0 * self.question.limits.least_frac
        return f"leaves a piece of {100.0 * least:.1f} %, {allowed:.0f} % allowed"

    def _made(
        self,
        plan: CutPlan,
        planes: tuple[Plane, ...],
        pieces: tuple[Piece, ...],
        joints: tuple[Joint, ...],
        loose: tuple[Piece, ...],
    ) -> Made:
        row = row_of(self.question, planes, pieces, joints, loose)
        row = replace(row, joints_in=self.final or not joints)
        excess = max(piece.fit.excess_mm for piece in (*pieces, *loose))
        return Made(plan=plan, row=row, pieces=pieces, joints=joints, loose=loose, excess_mm=excess)


def row_of(
    question: Question,
    planes: tuple[Plane, ...],
    pieces: tuple[Piece, ...],
    joints: tuple[Joint, ...],
    loose: tuple[Piece, ...],
) -> SplitRow:
    """What a set of pieces takes, failed tries included, and its weighted cost."""
    weights = question.weights
    printed = (*pieces, *loose)
    hours = [piece.estimate.time_h for piece in printed]
    run = spread_of_run(hours, question.odds)
    joint_h = sum(weights.joint_min / 60.0 + FACE_H_MM2 * joint.face_mm2 for joint in joints)
    own_h = sum(piece.estimate.own_time_h for piece in printed) + joint_h
    feedstock = sum(piece.estimate.feedstock_cost for piece in printed)
    days = run.expected_h / weights.attended_h
    cost = (
        weights.machine_cost_h * run.expected_h
        + weights.own_cost_h * own_h
        + feedstock * run.expected_h / max(sum(hours), 1e-9)
        + weights.day_cost * days
        + weights.late_cost_h * (run.high_h - run.expected_h)
    )
    reason = _why_not(question, printed)
    return SplitRow(
        pieces=len(pieces),
        cuts=planes,
        alone_h=sum(hours),
        longest_h=max(hours),
        run=run,
        own_min=60.0 * own_h,
        mass_g=sum(piece.estimate.mass_g for piece in printed),
        print_cost=sum(p.estimate.total_cost for p in printed) + weights.own_cost_h * joint_h,
        days=days,
        cost=cost,
        joints_in=True,
        fits=not reason,
        reason=reason,
    )


def _why_not(question: Question, pieces: Sequence[Piece]) -> str:
    """Why a set of pieces cannot be printed, with the number; or an empty text."""
    for piece in pieces:
        if not piece.fit.fits:
            return (
                f"{piece.name} does not fit {question.printing.printer.name}, "
                f"{piece.fit.excess_mm:.0f} mm too long{_held(question, piece)}"
            )
        if piece.estimate.time_h > question.limits.most_h:
            return (
                f"{piece.name} takes {piece.estimate.time_h:.1f} h, "
                f"{question.limits.most_h:g} h are allowed{_held(question, piece)}"
            )
    return ""


def _held(question: Question, piece: Piece) -> str:
    """Names the largest box in a piece that must stay whole, where it fills most of the piece."""
    keep = question.limits.keep
    if not len(keep) or piece.part.key == question.part.key:
        return ""
    low, high = piece.part.vertices_mm.min(axis=0), piece.part.vertices_mm.max(axis=0)
    shared = np.minimum(keep[:, 3:], high) - np.maximum(keep[:, :3], low)
    share = np.where((shared > 0.0).all(axis=1), shared.clip(0.0).prod(axis=1), 0.0)
    share = share / max(float((high - low).prod()), 1e-9)
    if share.max() < 0.25:
        return ""
    return f"; {question.limits.keep_names[int(share.argmax())]} in it must stay whole"
