"""A scene as one JSON header and one block of bytes: little-endian float32 and uint32."""

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buildplan.notebook.viewer.colours import COLOURS, NO_VALUE
from buildplan.notebook.viewer.model import Item, Poses, Scene, Spot, Values
from buildplan.report.finding_picture import PAINT
from buildplan.report.style import TOKENS, sign


class Block:
    """Arrays one after the other, each beginning at a multiple of four."""

    def __init__(self) -> None:
        self._pieces: list[bytes] = []
        self._size = 0

    def put(self, array: NDArray[Any], kind: str) -> list[int]:
        """Add an array as "<f4" or "<u4"; gives its first byte and how many numbers it has."""
        data = np.ascontiguousarray(array, dtype=kind).tobytes()
        place = [self._size, len(data) // 4]
        self._pieces.append(data)
        self._size += len(data)
        return place

    def whole(self) -> bytes:
        """All bytes."""
        return b"".join(self._pieces)


def pack_scene(scene: Scene) -> tuple[Mapping[str, Any], bytes]:
    """Header and bytes of a scene, as the view in the browser reads them.

    Every array stands in the header as [first byte, count]. Texts are plain text: the view writes
    them as text and never as markup.
    """
    block = Block()
    header = {
        "title": scene.title,
        "list_title": scene.list_title,
        "items": [_item(item, block) for item in scene.items],
        "spots": [_spot(spot, block) for spot in scene.spots],
        "values": [_values(one, block) for one in scene.values],
        "poses": None if scene.poses is None else _poses(scene.poses, block),
        "look": {
            "bar": list(COLOURS),
            "no_value": NO_VALUE,
            "paint": dict(PAINT) | {"step": TOKENS["blue"][0]},
            "signs": {kind: sign(kind) for kind in PAINT},
        },
    }
    return header, block.whole()


def _item(item: Item, block: Block) -> dict[str, Any]:
    return {
        "name": item.name,
        "colour": item.colour,
        "clear": item.clear,
        "group": item.group,
        "apart": list(item.apart_mm),
        "vertices": block.put(item.part.vertices_mm, "<f4"),
        "facets": block.put(item.part.facets, "<u4"),
    }


def _spot(spot: Spot, block: Block) -> dict[str, Any]:
    return {
        "kind": spot.kind,
        "what": spot.what,
        "where": spot.where,
        "more": list(spot.more),
        "box": [float(x) for x in spot.box_mm],
        "item": spot.item,
        "facets": block.put(spot.facets, "<u4"),
    }


def _values(values: Values, block: Block) -> dict[str, Any]:
    return {
        "name": values.name,
        "unit": values.unit,
        "item": values.item,
        "per": values.per,
        "low": values.low,
        "high": values.high,
        "capped": values.capped,
        "limits": [[value, words] for value, words in values.limits],
        "data": block.put(values.data, "<f4"),
    }


def _poses(poses: Poses, block: Block) -> dict[str, Any]:
    return {
        "name": poses.name,
        "unit": poses.unit,
        "at": [float(x) for x in poses.at],
        "groups": {group: block.put(own, "<f4") for group, own in poses.matrices.items()},
    }
