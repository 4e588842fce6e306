"""Writing parts: binary STL and 3MF, whole or not at all, equal parts giving equal bytes."""

import io
from pathlib import Path
from typing import Literal
from xml.sax.saxutils import escape, quoteattr
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

import numpy as np

from buildplan.errors import InputError
from buildplan.files import write_whole
from buildplan.part.model import Part

MeshFormat = Literal["stl", "3mf"]
FORMATS: tuple[MeshFormat, ...] = ("stl", "3mf")

_STL_FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
_STL_HEAD = b"binary STL, millimetres, written by buildplan"
_CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_CONTENT_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" '
    'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" '
    'ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
_RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)


def write_part(part: Part, path: Path | str) -> Path:
    """Write a part as the file its name asks for; the absolute path written.

    STL holds single precision and no unit: lengths are millimetres. 3MF holds the part's name, the
    unit and 9 digits of every coordinate.

    Raises:
        InputError: The file name ends in neither .stl nor .3mf.
        OSError: The file cannot be written; nothing half-written is left.

    Source: 3MF Core Specification 1.3, chapters 2 to 4; the usual layout of binary STL files.
    """
    target = Path(path).resolve()
    kind = target.suffix.lower().removeprefix(".")
    if kind == "stl":
        return write_whole(target, stl_bytes(part))
    if kind == "3mf":
        return write_whole(target, threemf_bytes(part))
    raise InputError(
        f"{target.name}: a part can be written as .stl or .3mf, the name ends in "
        f'"{target.suffix}"; choose one of the two'
    )


def stl_bytes(part: Part) -> bytes:
    """A part as binary STL: 84 bytes of head, 50 bytes a facet."""
    corners = part.vertices_mm[part.facets]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    records = np.zeros(len(corners), dtype=_STL_FACET)
    records["normal"] = np.divide(normals, length, out=np.zeros_like(normals), where=length > 0.0)
    records["corners"] = corners
    return _STL_HEAD.ljust(80) + len(corners).to_bytes(4, "little") + records.tobytes()


def threemf_bytes(part: Part) -> bytes:
    """A part as a 3MF package with one object; no date in it."""
    vertices = "".join(
        f'<vertex x="{x:.9g}" y="{y:.9g}" z="{z:.9g}"/>' for x, y, z in part.vertices_mm.tolist()
    )
    facets = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in part.facets.tolist())
    model = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<model unit="millimeter" xml:lang="en-US" xmlns="{_CORE}">'
        f'<metadata name="Title">{escape(_printable(part.name))}</metadata>'
        '<metadata name="Application">buildplan</metadata>'
        f'<resources><object id="1" type="model" name={quoteattr(_printable(part.name))}>'
        f"<mesh><vertices>{vertices}</vertices><triangles>{facets}</triangles></mesh>"
        '</object></resources><build><item objectid="1"/></build></model>'
    )
    file = io.BytesIO()
    with ZipFile(file, "w") as package:
        for name, text in (
            ("[Content_Types].xml", _CONTENT_TYPES),
            ("_rels/.rels", _RELATIONS),
            ("3D/3dmodel.model", model),
        ):
            # a fixed date, so that equal parts give equal bytes
            entry = ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            entry.compress_type = ZIP_DEFLATED
            package.writestr(entry, text.encode("utf-8"))
    return file.getvalue()


def _printable(text: str) -> str:
    """Text without the characters that XML does not allow."""
    return "".join(c if c.isprintable() else " " for c in text)
