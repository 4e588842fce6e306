"""The parts of a build file: each with its feedstock, recipe and the printers that may print it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast

from buildplan.build.faults import array_of, duplicate_faults, file_fault, name_faults
from buildplan.build.matrices import pose_fault, read_orientation
from buildplan.build.model import PartRequest
from buildplan.build.shape import FeatureTable, KeepOutTable, PartTable
from buildplan.build.ways import read_way
from buildplan.part.feature import Feature, KeepOut
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.loader import find_recipe, recipe_not_known
from buildplan.tables.match import why_not
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import Recipe
from buildplan.tables.rows import Kind, Table, find_row, is_spoilt
from buildplan.tables.strict import Fault, read_record
from buildplan.tables.wording import not_known, show


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What a part is resolved against; ``faults`` is added to.

    Attributes:
        shop: Machines at hand; None where `[build]` itself is wrong, so that nothing more is said.
        services: Names of those that may be named.
    """

    folder: Path
    tables: Mapping[Kind, Table[Any]]
    shop: tuple[Printer, ...] | None
    services: tuple[str, ...] = ()
    faults: list[Fault] = field(default_factory=list)

    def add(self, path: tuple[str | int, ...], text: str) -> None:
        """Note one thing that is wrong."""
        self.faults.append(Fault(path=path, text=text))


def read_parts(data: Mapping[str, Any], context: Context) -> tuple[PartRequest, ...]:
    """Every part that is right; faults of the others are added to the context."""
    raws = array_of(data, "part", context.faults)
    if not raws and not context.faults:
        context.add((), "holds no [[part]]. Add at least one")
    duplicate_faults(raws, ("part",), context.faults)
    made = [_part(raw, ("part", i), context) for i, raw in enumerate(raws)]
    return tuple(request for request in made if request is not None)


def _part(
    raw: Mapping[str, Any], path: tuple[str | int, ...], context: Context
) -> PartRequest | None:
    """One part; None where something is wrong with it."""
    before = len(context.faults)
    table, wrong = read_record(PartTable, raw, path)
    context.faults.extend(wrong)
    context.faults.extend(name_faults(raw.get("name"), (*path, "name")))
    file = _mesh_file(raw.get("file"), (*path, "file"), context)
    feedstock = _feedstock(raw.get("feedstock"), (*path, "feedstock"), context)
    recipe = printers = None
    if feedstock:
        asked = raw.get("recipe", "everyday")
        recipe = _recipe(asked, feedstock.process, (*path, "recipe"), context)
        printers = _printers(raw.get("printers", []), feedstock, path, context)
    orientation, wrong_turn = read_orientation(raw.get("orientation", "as placed"))
    if wrong_turn:
        context.add((*path, "orientation"), wrong_turn)
    way, wrong_way = read_way(raw.get("way", ""), context.services, (*path, "way"))
    context.faults.extend(wrong_way)
    sound = table or _sound_part(raw, wrong, path)
    _check_poses(sound, path, context)
    _check_boxes(sound, path, context)
    if len(context.faults) > before or not (table and file and feedstock and recipe and printers):
        return None
    return PartRequest(
        name=table.name,
        path=file,
        unit=table.unit,
        quantity=table.quantity,
        feedstock=feedstock,
        recipe=recipe,
        printers=printers,
        about=table.about,
        orientation=orientation,
        poses=tuple(tuple(x for row in pose for x in row) for pose in table.poses),
        moves_with=table.moves_with,
        features=tuple(_feature(item) for item in table.feature),
        keep_outs=tuple(_keep_out(item) for item in table.keep_out),
        way=way,
    )


def _sound_part(
    raw: Mapping[str, Any], wrong: tuple[Fault, ...], path: tuple[str | int, ...]
) -> PartTable:
    """What is right in a part that is wrong elsewhere, so that all its faults are found at once."""
    bad = {fault.path[len(path)] for fault in wrong if len(fault.path) > len(path)}
    stand_ins = {"name": "?", "file": "?", "feedstock": "?"}
    good = {key: value for key, value in raw.items() if key not in bad}
    if "quantity" in bad and isinstance(raw.get("poses"), list):
        good["quantity"] = len(raw["poses"])
    sound, _ = read_record(PartTable, stand_ins | good)
    return sound or PartTable(**stand_ins)  # type: ignore[arg-type]  # three texts


def _feature(item: FeatureTable) -> Feature:
    return Feature(name=item.name, kind=item.kind, box_mm=item.box_mm, about=item.about)


def _keep_out(item: KeepOutTable) -> KeepOut:
    return KeepOut(name=item.name, box_mm=item.box_mm, about=item.about)


def _mesh_file(value: object, path: tuple[str | int, ...], context: Context) -> Path | None:
    """The mesh file, where it is there."""
    if not isinstance(value, str):
        return None
    wrong = file_fault(context.folder, value)
    if wrong:
        context.add(path, f"file {show(value)} {wrong}")
        return None
    return context.folder / value


def _feedstock(value: object, path: tuple[str | int, ...], context: Context) -> Feedstock | None:
    rows = cast("Mapping[str, Feedstock]", context.tables["feedstock"].rows)
    found = find_row(rows, value) if isinstance(value, str) else None
    is_new = found is None and not is_spoilt(context.tables["feedstock"], value)
    if isinstance(value, str) and is_new:
        context.add(path, not_known("feedstock", value, rows))
    return found


def _recipe(
    value: object, process: str, path: tuple[str | int, ...], context: Context
) -> Recipe | None:
    rows = cast("Mapping[str, Recipe]", context.tables["recipe"].rows)
    found = find_recipe(rows, value, process) if isinstance(value, str) else None
    is_new = found is None and not is_spoilt(context.tables["recipe"], value)
    if isinstance(value, str) and is_new:
        context.add(path, recipe_not_known(rows, value, process))
    return found


def _printers(
    wishes: object, feedstock: Feedstock, path: tuple[str | int, ...], context: Context
) -> tuple[Printer, ...] | None:
    """Machines at hand that run the feedstock and are wished for; None where something is wrong."""
    if context.shop is None or not isinstance(wishes, list):
        return None
    shop = {row.key: row for row in context.shop}
    before = len(context.faults)
    chosen: list[Printer] = []
    for position, wish in enumerate(wishes):
        row = find_row(shop, wish) if isinstance(wish, str) else None
        where = (*path, "printers", position)
        if row is None and isinstance(wish, str):
            text = not_known("printers", wish, shop)
            context.add(where, text.replace("is not known", "is none of the printers in [build]"))
        elif row is not None and why_not(row, feedstock):
            context.add(where, f"printers {show(wish)}: {why_not(row, feedstock)}")
        elif row is not None:
            chosen.append(row)
    if not wishes:
        chosen = [row for row in context.shop if not why_not(row, feedstock)]
        if not chosen:
            reasons = "; ".join(why_not(row, feedstock) for row in context.shop)
            context.add(
                (*path, "feedstock"),
                f"feedstock {show(feedstock.key)} runs on none of the printers: {reasons}. "
                "Add a printer to [build] or choose another feedstock",
            )
    return tuple(dict.fromkeys(chosen)) if len(context.faults) == before else None


def _check_poses(table: PartTable, path: tuple[str | int, ...], context: Context) -> None:
    if table.poses and len(table.poses) != table.quantity:
        context.add(
            (*path, "poses"),
            f"poses holds {len(table.poses)} matrices for quantity {table.quantity}. "
            "Give one for each copy, or none",
        )
    for position, pose in enumerate(table.poses):
        wrong = pose_fault(pose)
        if wrong:
            context.add((*path, "poses"), f"poses (number {position + 1}) {wrong}")


def _check_boxes(table: PartTable, path: tuple[str | int, ...], context: Context) -> None:
    boxes: dict[str, tuple[FeatureTable | KeepOutTable, ...]] = {
        "feature": table.feature,
        "keep_out": table.keep_out,
    }
    for kind, items in boxes.items():
        names = [{"name": item.name} for item in items]
        duplicate_faults(names, (*path, kind), context.faults)
        for position, item in enumerate(items):
            where = (*path, kind, position)
            context.faults.extend(name_faults(item.name, (*where, "name")))
            low, high = item.box_mm[:3], item.box_mm[3:]
            for axis, start, end in zip("xyz", low, high, strict=True):
                if not start < end:
                    context.add(
                        (*where, "box_mm"),
                        f"box_mm runs from {axis} = {start:g} to {end:g}. "
                        "Write the low corner first: [x0, y0, z0, x1, y1, z1]",
                    )
