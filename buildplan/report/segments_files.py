"""Writing a split part out: a file for every print, the steps, a picture and segments.json."""

import re
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from buildplan.errors import MeshError
from buildplan.files import write_whole
from buildplan.part.model import Part
from buildplan.part.read import read_part
from buildplan.part.write import write_part
from buildplan.report.as_json import dump, finding_object
from buildplan.report.assembly_picture import draw_assembly
from buildplan.segments.assembly import as_printed, assembly_steps, bought_for
from buildplan.segments.joints import Joint
from buildplan.segments.model import Piece, SegmentPlan, SplitRow

SCHEMA_VERSION = 1

VOLUME_FRAC = 1e-6
"""A file that comes back with another volume than the piece by more than this, and by more than
single precision can do to its surface, is refused."""

SINGLE_FRAC = 2.0**-24
"""Half a step of single precision, relative to a coordinate."""

NAME_CHARACTERS = 60


def write_segments(plan: SegmentPlan, folder: Path | str) -> tuple[Path, ...]:
    """Write every print as STL and 3MF, assembly.png, assembly.txt and segments.json.

    Every piece stands as it is printed, its lowest point at z = 0. Each mesh file is read again
    and its volume compared with the piece's.

    Returns:
        Absolute paths, segments.json last.

    Raises:
        MeshError: A file that was written does not come back as the piece.
        OSError: A file cannot be written; nothing half-written is left.
    """
    target = Path(folder).resolve()
    names = file_names([piece.name for piece in (*plan.pieces, *plan.loose)])
    written: list[Path] = []
    for piece, name in zip((*plan.pieces, *plan.loose), names, strict=True):
        printed = as_printed(piece)
        for kind in ("stl", "3mf"):
            path = write_part(printed, target / f"{name}.{kind}")
            _check_round_trip(path, printed)
            written.append(path)
    if plan.joints:
        picture = draw_assembly(plan)
        written.append(write_whole(target / "assembly.png", picture.data))
        written.append(write_whole(target / "assembly.txt", steps_text(plan)))
    written.append(write_whole(target / "segments.json", dump(segments_object(plan))))
    return tuple(written)


def file_names(names: Iterable[str]) -> tuple[str, ...]:
    """Names of files for names of pieces: letters, digits and underscores, each once."""
    found: list[str] = []
    for name in names:
        plain = re.sub(r"[^A-Za-z0-9]+", "_", name).strip("_")[:NAME_CHARACTERS] or "piece"
        unique, number = plain, 2
        while unique.lower() in (other.lower() for other in found):
            unique, number = f"{plain}_{number}", number + 1
        found.append(unique)
    return tuple(found)


def steps_text(plan: SegmentPlan) -> str:
    """The steps of assembly, one line each, and what to buy for them."""
    steps = [f"{step.joint}. {step.text}." for step in assembly_steps(plan)]
    lines = [f"{plan.part}: how it goes together", "", *steps]
    bought = bought_for(plan.joints)
    if bought:
        lines += ["", "To buy:"]
        lines += [f"  {piece.quantity:g} {_unit(piece.unit)} {piece.item}" for piece in bought]
    return "\n".join(lines) + "\n"


def segments_object(plan: SegmentPlan) -> dict[str, Any]:
    """The whole split, as segments.json holds it and `--json` prints it."""
    names = file_names([piece.name for piece in (*plan.pieces, *plan.loose)])
    count = len(plan.pieces)
    steps = {step.index: step for step in assembly_steps(plan)} if plan.joints else {}
    return {
        "schema_version": SCHEMA_VERSION,
        "part": plan.part,
        "printer": plan.printer,
        "summary": plan.summary,
        "pieces": [_piece(p, n) for p, n in zip(plan.pieces, names[:count], strict=True)],
        "loose": [_piece(p, n) for p, n in zip(plan.loose, names[count:], strict=True)],
        "joints": [
            {
                **_joint(joint),
                "number": steps[index].joint,
                "first": list(steps[index].first),
                "second": list(steps[index].second),
                "step": steps[index].text,
                "wait_h": _number(steps[index].wait_h),
            }
            for index, joint in enumerate(plan.joints)
        ],
        "bought": [asdict(piece) for piece in bought_for(plan.joints)],
        "table": [_row(row) for row in plan.table],
        "chosen": plan.chosen,
        "rejected": [
            {"plane": entry.plane.words(), "reason": entry.reason} for entry in plan.rejected
        ],
        "odds": {key: _number(value) for key, value in asdict(plan.odds).items()},
        "weights": {key: _number(value) for key, value in asdict(plan.weights).items()},
        "findings": [finding_object(finding) for finding in plan.findings],
    }


def _piece(piece: Piece, name: str) -> dict[str, Any]:
    printed = as_printed(piece)
    return {
        "name": piece.name,
        "file": f"{name}.stl",
        "file_3mf": f"{name}.3mf",
        "volume_mm3": _number(piece.part.volume_mm3),
        "size_mm": [_number(x) for x in printed.size_mm],
        "time_h": _number(piece.estimate.time_h),
        "mass_g": _number(piece.estimate.mass_g),
        "total_cost": _number(piece.estimate.total_cost),
        "layers": piece.estimate.layers,
        "laid": piece.laid,
        "orientation": [_number(x, 9) for x in piece.orientation],
        "fits": piece.fit.fits,
        "fit_how": piece.fit.how,
    }


def _joint(joint: Joint) -> dict[str, Any]:
    proof = joint.proof
    return {
        "kind": joint.kind,
        "plane": joint.plane.words(),
        "normal": [_number(x, 9) for x in joint.plane.normal],
        "offset_mm": _number(joint.plane.offset_mm),
        "size_mm": _number(joint.spec.size_mm),
        "depth_mm": _number(joint.spec.depth_mm),
        "clearance_mm": _number(joint.spec.clearance_mm),
        "hole_extra_mm": _number(joint.spec.hole_extra_mm),
        "wall_mm": _number(joint.spec.wall_mm),
        "at_mm": [[_number(x) for x in point] for point in joint.at_mm],
        "face_mm2": _number(joint.face_mm2),
        "joinable_frac": _number(joint.joinable_frac),
        "bought": [asdict(piece) for piece in joint.bought],
        "checks": {
            "wall_leak_mm3": _number(proof.wall_leak_mm3, 9),
            "least_gap_mm": _number(proof.least_gap_mm),
            "overlap_mm3": _number(proof.overlap_mm3, 9),
            "outside_mm3": _number(proof.outside_mm3, 9),
            "volume_error_frac": _number(proof.volume_error_frac, 15),
            "pieces": list(proof.pieces),
        },
    }


def _row(row: SplitRow) -> dict[str, Any]:
    return {
        "pieces": row.pieces,
        "cuts": [plane.words() for plane in row.cuts],
        "alone_h": _number(row.alone_h),
        "longest_h": _number(row.longest_h),
        "expected_h": _number(row.run.expected_h),
        "median_h": _number(row.run.median_h),
        "high_h": _number(row.run.high_h),
        "lost_h": _number(row.run.lost_h),
        "any_failure_frac": _number(row.run.any_failure_frac),
        "own_min": _number(row.own_min),
        "mass_g": _number(row.mass_g),
        "print_cost": _number(row.print_cost),
        "days": _number(row.days),
        "cost": _number(row.cost),
        "joints_in": row.joints_in,
        "fits": row.fits,
        "reason": row.reason,
    }


def _check_round_trip(path: Path, part: Part) -> None:
    """Read a mesh file and compare its volume with the part it was written from."""
    back = read_part(path, unit="mm", health="quick")
    off = abs(back.volume_mm3 - part.volume_mm3)
    reach = SINGLE_FRAC * float(abs(part.vertices_mm).max())
    if not back.closed or off > VOLUME_FRAC * part.volume_mm3 + reach * part.area_mm2:
        raise MeshError(
            f"{path.name}: read again it {'holds' if back.closed else 'is open and holds'} "
            f"{back.volume_mm3:.3f} mm3, the piece has {part.volume_mm3:.3f} mm3; move the cut a "
            "little and split again"
        )


def _unit(unit: str) -> str:
    return "x" if unit == "piece" else unit


def _number(value: float, digits: int = 6) -> float:
    return round(float(value), digits) + 0.0
