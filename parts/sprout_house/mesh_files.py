"""Writing meshes with the same bytes every time: binary STL, 3MF, OBJ."""

import zipfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Vertices = NDArray[np.float64]
Facets = NDArray[np.int64]

_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" '
    'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" '
    'ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>\n'
)
_RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>\n'
)
_MODEL = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<model unit="millimeter" xml:lang="en" '
    'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">\n'
    '<resources><object id="1" type="model" name="{name}"><mesh>\n<vertices>\n{vertices}\n'
    "</vertices>\n<triangles>\n{triangles}\n</triangles>\n</mesh></object></resources>\n"
    '<build><item objectid="1"/></build>\n</model>\n'
)


def write_mesh(path: Path, vertices: Vertices, facets: Facets) -> None:
    """Write a mesh in the format that the file's ending names."""
    writers = {".stl": write_stl, ".3mf": write_3mf, ".obj": write_obj}
    writers[path.suffix](path, vertices, facets)


def write_stl(path: Path, vertices: Vertices, facets: Facets) -> None:
    """Binary STL: 80 bytes of header, the count, then 50 bytes a facet."""
    corners = vertices[facets].astype("<f4")
    edges = corners[:, 1:].astype(np.float64) - corners[:, :1]
    normal = np.cross(edges[:, 0], edges[:, 1])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    records = np.zeros(
        len(facets), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")]
    )
    records["normal"] = normal / np.where(length > 0.0, length, 1.0)
    records["corners"] = corners
    header = f"sprout house {path.stem}, millimetres".encode().ljust(80)
    path.write_bytes(header + np.uint32(len(facets)).tobytes() + records.tobytes())


def write_obj(path: Path, vertices: Vertices, facets: Facets) -> None:
    """Wavefront OBJ: points to five decimals, facets counted from 1."""
    lines = [f"# sprout house {path.stem}, millimetres", f"o {path.stem}"]
    lines += ["v " + " ".join(f"{x:.5f}" for x in point) for point in vertices.round(5) + 0.0]
    lines += ["f " + " ".join(str(i + 1) for i in facet) for facet in facets]
    path.write_text("\n".join(lines) + "\n", encoding="ascii", newline="\n")


def write_3mf(path: Path, vertices: Vertices, facets: Facets) -> None:
    """3MF core: one object, one build item; stored unpacked and dated 1980 for equal bytes."""
    points = "\n".join(
        f'<vertex x="{x:.5f}" y="{y:.5f}" z="{z:.5f}"/>' for x, y, z in vertices.round(5) + 0.0
    )
    triangles = "\n".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in facets)
    model = _MODEL.format(name=path.stem, vertices=points, triangles=triangles)
    members = (
        ("[Content_Types].xml", _TYPES),
        ("_rels/.rels", _RELATIONS),
        ("3D/3dmodel.model", model),
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        for name, text in members:
            entry = zipfile.ZipInfo(name)
            entry.create_system = 3
            archive.writestr(entry, text.encode())
