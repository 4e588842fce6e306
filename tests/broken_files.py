"""A zoo of bad part files, each with what reading it must give."""

import io
import json
import struct
import zipfile
import zlib
from dataclasses import dataclass

import numpy as np
import solids

BALL = 33321.0938
"""Volume of the ball below in mm3, a polyhedron of 2048 facets; checked against manifold3d."""

RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])
CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"


@dataclass(frozen=True)
class Refused:
    """The file must be refused with a message that matches these words."""

    words: str


@dataclass(frozen=True)
class Read:
    """The file must give a part of this volume, with a finding of this check (empty: any)."""

    volume_mm3: float
    check: str = ""
    grade: str = "exact"
    rel: float = 1e-5


def ball():
    return solids.arrays(solids.sphere(20.0, 64))


def cube(edge=10.0, at=(0.0, 0.0, 0.0)):
    return solids.arrays(solids.box(edge, edge, edge, at))


def joined(*meshes):
    vertices, facets, count = [], [], 0
    for points, corners in meshes:
        vertices.append(points)
        facets.append(corners + count)
        count += len(points)
    return np.vstack(vertices), np.vstack(facets)


def binary_stl(triangles, header=b"", count=None, extra=b""):
    records = np.zeros(len(triangles), RECORD)
    records["corners"] = triangles
    stated = len(triangles) if count is None else count
    return header.ljust(80, b"\0")[:80] + struct.pack("<I", stated) + records.tobytes() + extra


def stl(vertices, facets, **options):
    return binary_stl(vertices[facets], **options)


def text_stl(vertices, facets):
    lines = ["solid ball"]
    for triangle in vertices[facets]:
        lines += ["facet normal 0 0 0", " outer loop"]
        lines += [f"  vertex {x:.9g} {y:.9g} {z:.9g}" for x, y, z in triangle]
        lines += [" endloop", "endfacet"]
    return "\n".join([*lines, "endsolid ball", ""])


def model(vertices, facets, *, unit="millimeter", head="", item=None, objects="", root=""):
    points = "".join(f'<vertex x="{x}" y="{y}" z="{z}"/>' for x, y, z in vertices)
    corners = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in facets)
    item = '<item objectid="1"/>' if item is None else item
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{head}<model unit="{unit}" xmlns="{CORE}" {root}>'
        f'<resources><object id="1" type="model"><mesh><vertices>{points}</vertices>'
        f"<triangles>{corners}</triangles></mesh></object>{objects}</resources>"
        f"<build>{item}</build></model>"
    )


START = (
    '<?xml version="1.0"?><Relationships '
    'xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship '
    'Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)


def packed(text, *, name="3D/3dmodel.model", start=True):
    """A 3MF of one model."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as file:
        if start:
            file.writestr("_rels/.rels", START)
        file.writestr(name, text)
    return out.getvalue()


def blown_up(text, piece, times, *, mark="<resources>", declared=None):
    """A 3MF whose model holds ``piece`` many times over: packed once, its blocks repeated."""
    at = text.index(mark)
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    start = packer.compress(text[:at].encode()) + packer.flush(zlib.Z_FULL_FLUSH)
    block = packer.compress(piece) + packer.flush(zlib.Z_FULL_FLUSH)
    end = packer.compress(text[at:].encode()) + packer.flush()
    data = start + block * times + end
    size = len(text) + times * len(piece) if declared is None else declared
    name = b"3D/3dmodel.model"
    about = struct.pack("<HHHHHIIIHH", 20, 0, 8, 0, 33, 0, len(data), size, len(name), 0)
    local = b"PK\x03\x04" + about + name
    listed = b"PK\x01\x02" + struct.pack("<H", 20) + about + struct.pack("<HHHII", 0, 0, 0, 0, 0)
    listed += name
    tail = struct.pack("<HHHHIIH", 0, 0, 1, 1, len(listed), len(local) + len(data), 0)
    return local + data + listed + b"PK\x05\x06" + tail


def obj(vertices, facets, more=""):
    lines = [f"v {x:.9g} {y:.9g} {z:.9g}" for x, y, z in vertices]
    lines += [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in facets]
    return ("\n".join(lines) + "\n" + more).encode()


def text_ply(vertices, facets, *, rows=None):
    count = len(vertices) if rows is None else rows
    head = (
        f"ply\nformat ascii 1.0\nelement vertex {count}\nproperty float x\nproperty float y\n"
        f"property float z\nelement face {len(facets)}\n"
        "property list uchar int vertex_indices\nend_header\n"
    )
    lines = [f"{x:.9g} {y:.9g} {z:.9g}" for x, y, z in vertices]
    lines += [f"3 {a} {b} {c}" for a, b, c in facets]
    return (head + "\n".join(lines) + "\n").encode()


def binary_ply(vertices, facets, order="little"):
    mark = "<" if order == "little" else ">"
    head = (
        f"ply\nformat binary_{order}_endian 1.0\nelement vertex {len(vertices)}\n"
        "property double x\nproperty double y\nproperty double z\nproperty uchar red\n"
        f"element face {len(facets)}\nproperty uchar flags\n"
        "property list uchar int vertex_indices\nend_header\n"
    )
    points = np.zeros(len(vertices), [("xyz", mark + "f8", 3), ("red", "u1")])
    points["xyz"] = vertices
    faces = np.zeros(len(facets), [("flags", "u1"), ("n", "u1"), ("v", mark + "i4", 3)])
    faces["n"], faces["v"] = 3, facets
    return head.encode() + points.tobytes() + faces.tobytes()


def off(vertices, facets, head="OFF"):
    lines = [head, f"{len(vertices)} {len(facets)} 0"]
    lines += [f"{x:.9g} {y:.9g} {z:.9g}" for x, y, z in vertices]
    lines += [f"3 {a} {b} {c} 255 0 0" for a, b, c in facets]
    return ("\n".join(lines) + "\n").encode()


def glb(vertices, facets, change=None, nodes=None, cut=0):
    """A GLB of one mesh in metres; ``change`` edits the description before it is packed."""
    points = np.asarray(vertices, "<f4").tobytes()
    corners = np.asarray(facets, "<u4").tobytes()
    tree = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": nodes or [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": len(vertices), "type": "VEC3"},
            {"bufferView": 1, "componentType": 5125, "count": 3 * len(facets), "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": len(points)},
            {"buffer": 0, "byteOffset": len(points), "byteLength": len(corners)},
        ],
        "buffers": [{"byteLength": len(points) + len(corners)}],
    }
    if change:
        change(tree)
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    body = points + corners
    size = 12 + 8 + len(text) + 8 + len(body)
    data = struct.pack("<4sII", b"glTF", 2, size) + struct.pack("<II", len(text), 0x4E4F534A)
    data += text + struct.pack("<II", len(body), 0x004E4942) + body
    return data[: len(data) - cut]


def set_at(tree, *path_and_value):
    *path, last, value = path_and_value
    for key in path:
        tree = tree[key]
    tree[last] = value


def stl_files():
    vertices, facets = ball()
    good = stl(vertices, facets)
    text = text_stl(vertices, facets)
    lines = text.split("\n")

    def with_line(number, line):
        return "\n".join([*lines[:number], line, *lines[number + 1 :]]).encode()

    nan = bytearray(good)
    nan[84 + 12 : 84 + 16] = struct.pack("<f", np.nan)
    infinite = bytearray(good)
    infinite[84 + 62 : 84 + 66] = struct.pack("<f", np.inf)
    return {
        "good.stl": (good, Read(BALL)),
        "cut_short.stl": (good[: len(good) // 2 + 7], Refused("says 2048 triangles.* holds 1023")),
        "count_4e9.stl": (
            good[:80] + struct.pack("<I", 4_000_000_000) + good[84:],
            Refused("says 4000000000 triangles, the file holds 2048"),
        ),
        "count_small.stl": (
            good[:80] + struct.pack("<I", 10) + good[84:],
            Refused("says 10 triangles, the file holds 2048"),
        ),
        "count_zero.stl": (good[:80] + struct.pack("<I", 0) + good[84:], Refused("says 0 tri")),
        "trailing_byte.stl": (good + b"\n", Refused("says 2048 triangles, the file holds 2048.0")),
        "empty.stl": (b"", Refused("0 bytes")),
        "80_bytes.stl": (b"\0" * 80, Refused("80 bytes long")),
        "no_triangles.stl": (b"\0" * 84, Refused("0 triangles")),
        "named_solid.stl": (stl(vertices, facets, header=b"solid ball"), Read(BALL)),
        "named_solid_cut.stl": (
            stl(vertices, facets, header=b"solid ball")[:5000],
            Refused("says 2048 triangles, the file holds 98.3"),
        ),
        "nan.stl": (bytes(nan), Refused("1 of 2048 facets .* not a finite number")),
        "infinite.stl": (bytes(infinite), Refused("1 of 2048 facets .* facet 2")),
        "random.stl": (
            np.random.default_rng(0).bytes(50_000),
            Refused(r"header says \d+ triangles, the file holds 998.3"),
        ),
        "document.stl": (b"%PDF-1.4\n" + b"x" * 5000, Refused("PDF document of 5009 bytes")),
        "web_page.stl": (
            b"<html><body>404 not found" + b" " * 100 + b"</body></html>",
            Refused("web page"),
        ),
        "short_web_page.stl": (b"<html>404</html>", Refused("16 bytes long")),
        "text.stl": (text.encode(), Read(BALL)),
        "text_capitals_crlf.stl": (text.upper().replace("\n", "\r\n").encode(), Read(BALL)),
        "text_byte_mark.stl": (b"\xef\xbb\xbf" + text.encode(), Read(BALL)),
        "text_two_solids.stl": (
            (text + text_stl(vertices + np.array([100.0, 0, 0]), facets)).encode(),
            Read(2 * BALL),
        ),
        "text_nan.stl": (with_line(4, "vertex nan inf 1e400"), Refused("line 5 holds 'nan'")),
        "text_1e400.stl": (with_line(4, "vertex 1 2 1e400"), Refused("line 5 holds '1e400'")),
        "text_word.stl": (with_line(4, "vertex 1.0 abc 2.0"), Refused("facet 1, line 5: 'abc'")),
        "text_two_numbers.stl": (
            with_line(4, "vertex 1.0 2.0"),
            Refused("line 6: 'vertex' stands where"),
        ),
        "text_cut.stl": (text[: len(text) // 2].encode(), Refused(r"after \d+ whole facets")),
        "text_comma.stl": (text.replace(".", ",").encode(), Refused("decimal point")),
        "text_underscore.stl": (with_line(4, "vertex 1_0 2 3"), Refused("'1_0'")),
        "text_after_end.stl": ((text + "rubbish").encode(), Refused("'rubbish'")),
    }


def shape_files():
    vertices, facets = ball()
    mixed = facets.copy()
    mixed[::3] = mixed[::3, ::-1]
    jitter = vertices[facets] + np.random.default_rng(0).normal(0.0, 1e-4, (len(facets), 3, 3))
    pulled = vertices.copy()
    middle = vertices.mean(axis=0)
    pulled[500] = middle - 1.2 * (pulled[500] - middle)
    quarter = solids.sphere(20.0, 64)
    union = quarter + quarter.translate((15.0, 0.0, 0.0))
    small = cube()
    box = cube(30.0)
    far = vertices + np.array([16000.0, 0.0, 0.0])
    missing = np.delete(facets, [300], axis=0)
    wide = vertices[facets].mean(axis=1)[:, 2] < 30.0
    return {
        "one_missing.stl": (stl(vertices, missing), Read(BALL, "repair", "repaired", 2e-3)),
        "six_missing.stl": (
            stl(vertices, np.delete(facets, range(300, 306), axis=0)),
            Read(BALL, "health", "estimate", 3e-3),
        ),
        "open_top.stl": (
            stl(vertices, facets[wide]),
            Refused(r"1 hole, the largest \d+\.?\d* mm wide .* near \(.*fill_holes_mm="),
        ),
        "mixed_winding.stl": (stl(vertices, mixed), Read(BALL, "repair", "repaired")),
        "inside_out.stl": (stl(vertices, facets[:, ::-1]), Read(BALL, "repair", "repaired")),
        "every_facet_twice.stl": (
            stl(vertices, np.vstack([facets, facets])),
            Read(BALL, "repair", "repaired"),
        ),
        "one_facet_twice.stl": (
            stl(vertices, np.vstack([facets, facets[7:8]])),
            Read(BALL, "repair", "repaired"),
        ),
        "one_facet_twice_turned.stl": (
            stl(vertices, np.vstack([facets, facets[7:8, ::-1]])),
            Read(BALL, "repair", "repaired"),
        ),
        "overlapping.stl": (
            stl(*joined((vertices, facets), (vertices + np.array([15.0, 0, 0]), facets))),
            Read(union.volume(), "repair", "repaired"),
        ),
        "one_in_another.stl": (
            stl(*joined(box, cube(10.0, (10.0, 10.0, 10.0)))),
            Read(27000.0, "repair", "repaired"),
        ),
        "crosses_itself.stl": (stl(pulled, facets), Read(32900.0, "health", "exact", 0.02)),
        "collapsed_facets.stl": (
            stl(vertices, np.vstack([facets, [[0, 0, 1], [2, 2, 2]]])),
            Read(BALL, "health"),
        ),
        "sliver.stl": (
            binary_stl(np.concatenate([vertices[facets], [[[0, 0, 0], [1, 0, 0], [2, 0, 0]]]])),
            Read(BALL, "repair", "repaired"),
        ),
        "not_joined.stl": (binary_stl(jitter), Read(BALL, "repair", "repaired", 1e-4)),
        "metres.stl": (stl(vertices * 1e-3, facets), Read(BALL * 1e-9, "units")),
        "inches.stl": (stl(vertices / 25.4, facets), Read(BALL / 25.4**3, "units")),
        "huge.stl": (stl(vertices * 1e9, facets), Read(BALL * 1e27, "units")),
        "beyond_reckoning.stl": (stl(vertices * 1e20, facets), Refused("reach 4e.21 mm")),
        "far_away.stl": (stl(far, facets), Read(BALL, rel=1e-3)),
        "edge_to_edge.stl": (
            stl(*joined(small, cube(10.0, (10.0, 10.0, 0.0)))),
            Read(2000.0),
        ),
        "face_to_face.stl": (stl(*joined(small, cube(10.0, (10.0, 0.0, 0.0)))), Read(2000.0)),
        "cavity.stl": (
            stl(*joined(box, (cube(10.0, (10.0, 10.0, 10.0))[0], small[1][:, ::-1]))),
            Read(26000.0),
        ),
        "cavity_inside_out.stl": (
            stl(*joined((box[0], box[1][:, ::-1]), cube(10.0, (10.0, 10.0, 10.0)))),
            Read(26000.0, "repair", "repaired"),
        ),
        "one_body_inside_out.stl": (
            stl(*joined(box, (cube(10.0, (50.0, 0.0, 0.0))[0], small[1][:, ::-1]))),
            Read(28000.0, "repair", "repaired"),
        ),
        "flat_sheet.stl": (
            binary_stl(
                np.array(
                    [[[0, 0, 0], [10, 0, 0], [0, 10, 0]], [[10, 0, 0], [10, 10, 0], [0, 10, 0]]]
                )
            ),
            Refused("2 triangles enclose no volume.*10 x 10 x 0 mm"),
        ),
        "two_sided_sheet.stl": (
            binary_stl(
                np.array([[[0, 0, 0], [9, 0, 0], [0, 9, 0]], [[0, 0, 0], [0, 9, 0], [9, 0, 0]]])
            ),
            Refused("enclose no volume"),
        ),
        "one_point.stl": (binary_stl(np.ones((1000, 3, 3))), Refused("all 1000 triangles")),
        "one_sided_band.stl": (binary_stl(one_sided_band()), Refused(r"hole.*mm wide")),
        "needles.stl": (
            binary_stl(needles().astype(np.float32)),
            Read(volume_of(needles().astype(np.float32).astype(float)), "health", rel=1e-3),
        ),
        "scattered.stl": (
            binary_stl(np.random.default_rng(1).normal(0, 10, (30000, 3, 3))),
            Refused(r"90000 edges of 30000 triangles are open"),
        ),
    }


def needles(count=12000):
    """Thin spikes along one slant whose boxes all overlap and that never touch."""
    rng = np.random.default_rng(3)
    foot = rng.uniform(-0.5, 0.5, (count, 1, 3)) * 20.0
    shape = np.array([[0.0, 0, 0], [1e-3, 0, 0], [0, 1e-3, 0], [80.0, 81.0, 82.0]])
    corners = foot + shape * rng.uniform(0.5, 1.0, (count, 1, 1))
    return corners[:, [[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]].reshape(-1, 3, 3)


def volume_of(triangles):
    a, b, c = (triangles[:, k] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)


def one_sided_band(count=40):
    """A strip glued with a half turn: it has no inside."""
    turn = np.linspace(0.0, 2.0 * np.pi, count + 1)
    edges = []
    for side in (-1.0, 1.0):
        radius = 20.0 + side * 3.0 * np.cos(turn / 2)
        edges.append(
            np.column_stack(
                [radius * np.cos(turn), radius * np.sin(turn), 3.0 * side * np.sin(turn / 2)]
            )
        )
    low, high = edges
    high[-1], low[-1] = low[0], high[0]
    triangles = []
    for i in range(count):
        triangles += [[low[i], low[i + 1], high[i]], [high[i], low[i + 1], high[i + 1]]]
    return np.array(triangles)


def packed_files():
    vertices, facets = cube()
    good = packed(model(vertices, facets))
    plain = model(vertices, facets)
    levels = "<!DOCTYPE m [<!ENTITY a 'aaaaaaaaaa'>" + "".join(
        f"<!ENTITY {chr(98 + i)} '{('&' + chr(97 + i) + ';') * 10}'>" for i in range(9)
    )
    outside = "<!DOCTYPE m [<!ENTITY x SYSTEM 'file:///etc/hostname'>]>"
    within = "".join(
        f'<object id="{k}" type="model"><components>'
        + f'<component objectid="{k - 1}"/>' * 10
        + "</components></object>"
        for k in range(2, 10)
    )
    cycle = (
        '<object id="2" type="model"><components><component objectid="3"/></components></object>'
        '<object id="3" type="model"><components><component objectid="2"/></components></object>'
    )
    pair = (
        '<object id="2" type="model"><components><component objectid="1"/>'
        '<component objectid="1" transform="2 0 0 0 1 0 0 0 1 50 0 0"/></components></object>'
    )
    mirror = '<item objectid="1" transform="-1 0 0 0 1 0 0 0 1 5 6 7"/>'
    vertex = b'<vertex x="1" y="1" z="1"/>'
    flat = '<item objectid="1" transform="1 0 0 0 1 0 0 0 0 0 0 0"/>'
    support = '<object id="4" type="support"><mesh><vertices/><triangles/></mesh></object>'
    locked = bytearray(good)
    for mark, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        place = locked.rfind(mark)
        locked[place + at] |= 1
    lying = bytearray(good)
    place = lying.rfind(b"PK\x01\x02")
    lying[place + 24 : place + 28] = struct.pack("<I", 100)
    return {
        "good.3mf": (good, Read(1000.0)),
        "inches.3mf": (packed(model(vertices, facets, unit="inch")), Read(1000.0 * 25.4**3)),
        "no_start.3mf": (packed(plain, start=False), Read(1000.0)),
        "unknown_unit.3mf": (packed(model(vertices, facets, unit="cubit")), Refused("'cubit'")),
        "components.3mf": (
            packed(model(vertices, facets, objects=pair, item='<item objectid="2"/>')),
            Read(3000.0),
        ),
        "mirrored.3mf": (packed(model(vertices, facets, item=mirror)), Read(1000.0)),
        "index_high.3mf": (
            packed(model(vertices, [*facets, [0, 1, 999999]])),
            Refused("triangle 12 .*999999.* holds 8"),
        ),
        "index_negative.3mf": (
            packed(model(vertices, [*facets, [0, 1, -1]])),
            Refused("triangle 12 .*-1"),
        ),
        "index_word.3mf": (
            packed(plain.replace(' v2="', ' v2="z', 1)),
            Refused("triangle 0 of object 1"),
        ),
        "index_beyond_64_bits.3mf": (
            packed(model(vertices, [*facets, [0, 1, 10**30]])),
            Refused("triangle 12"),
        ),
        "nan.3mf": (
            packed(model([*vertices[:-1], ("nan", "inf", "1e999")], facets)),
            Refused("1 vertices of object 1 are not finite"),
        ),
        "vertex_incomplete.3mf": (packed(plain.replace(' z="', ' w="', 1)), Refused("vertex 0")),
        "entities.3mf": (
            packed(
                model(vertices, facets, head=levels + "]>").replace("<res", "<m>&j;</m><res", 1)
            ),
            Refused("document type"),
        ),
        "outside_entity.3mf": (
            packed(model(vertices, facets, head=outside).replace("<res", "<m>&x;</m><res", 1)),
            Refused("document type"),
        ),
        "spaces_3_gb.3mf": (
            blown_up(plain, b" " * (1 << 20), 3000),
            Refused(r"unpacks to 31457\d+ bytes"),
        ),
        "spaces_400_mb.3mf": (
            blown_up(plain, b" " * (1 << 20), 400),
            Refused("at most 250 to 1"),
        ),
        "spaces_3_gb_denied.3mf": (
            blown_up(plain, b" " * (1 << 20), 3000, declared=len(plain)),
            Refused("damaged or locked|broken"),
        ),
        "vertices_24_million.3mf": (
            blown_up(plain, vertex * 40000, 600, mark="</vertices>"),
            Refused("unpacks to 648"),
        ),
        "vertices_10_million.3mf": (
            blown_up(plain, vertex * 40000, 250, mark="</vertices>"),
            Refused("at most 250 to 1"),
        ),
        "instances_1e8.3mf": (
            packed(model(vertices, facets, objects=within, item='<item objectid="9"/>')),
            Refused("more than 10000 copies"),
        ),
        "cycle.3mf": (
            packed(model(vertices, facets, objects=cycle, item='<item objectid="2"/>')),
            Refused("contains itself"),
        ),
        "missing_object.3mf": (
            packed(model(vertices, facets, item='<item objectid="77"/>')),
            Refused("object 77 is placed but not there"),
        ),
        "object_twice.3mf": (
            packed(model(vertices, facets, objects='<object id="1"/>')),
            Refused("object 1 is there twice"),
        ),
        "empty_build.3mf": (packed(model(vertices, facets, item="")), Refused("lists 0 items")),
        "only_support.3mf": (
            packed(model(vertices, facets, objects=support, item='<item objectid="4"/>')),
            Refused("0 triangles"),
        ),
        "support_beside.3mf": (
            packed(
                model(
                    vertices,
                    facets,
                    objects=support,
                    item='<item objectid="1"/><item objectid="4"/>',
                )
            ),
            Read(1000.0, "health"),
        ),
        "flattening.3mf": (packed(model(vertices, facets, item=flat)), Refused("determinant 0")),
        "short_transform.3mf": (
            packed(model(vertices, facets, item='<item objectid="1" transform="1 0 0"/>')),
            Refused("12 finite numbers"),
        ),
        "strange_extension.3mf": (
            packed(model(vertices, facets, root='xmlns:q="urn:q" requiredextensions="q"')),
            Refused("extension 'urn:q'"),
        ),
        "broken_xml.3mf": (packed(plain[:-30]), Refused("XML is broken in line 1")),
        "other_contents.3mf": (
            packed("nothing", name="hello.txt", start=False),
            Refused("holds 1 entries but not the model"),
        ),
        "not_packed.3mf": (b"PK\x03\x04garbage", Refused("11 bytes is not a whole packed file")),
        "cut_short.3mf": (good[: len(good) // 2], Refused("not a whole packed file")),
        "locked.3mf": (bytes(locked), Refused("damaged or locked")),
        "lying_size.3mf": (bytes(lying), Refused("declares|damaged")),
        "flipped_bit.3mf": (
            good[:400] + bytes([good[400] ^ 255]) + good[401:],
            Refused("damaged|broken"),
        ),
    }


def obj_files():
    vertices, facets = cube()
    quads = (
        "v 0 0 0\nv 9 0 0\nv 9 9 0\nv 0 9 0\nv 0 0 9\nv 9 0 9\nv 9 9 9\nv 0 9 9\n"
        "f 4 3 2 1\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\n"
    )
    return {
        "good.obj": (obj(vertices, facets), Read(1000.0)),
        "quads.obj": (quads.encode(), Read(729.0)),
        "quads_textured.obj": (
            quads.replace("f 4 3 2 1", "f 4/1/1 3/2/1 2//1 1/1 # floor").encode(),
            Read(729.0),
        ),
        "continued.obj": (quads.replace("f 4 3", "f 4 \\\n3").encode(), Read(729.0)),
        "counted_back.obj": (
            quads.replace("f 4 3 2 1", "f -5 -6 -7 -8").encode(),
            Read(729.0),
        ),
        "index_high.obj": (obj(vertices, facets, "f 1 2 99999\n"), Refused("99999.*1 to 8")),
        "index_zero.obj": (obj(vertices, facets, "f 0 1 2\n"), Refused("line 21 names vertex 0")),
        "index_below.obj": (
            b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf -9 -2 -1\n",
            Refused("line 4 names vertex -9"),
        ),
        "index_huge.obj": (
            obj(vertices, facets, "f 1 2 99999999999999999999\n"),
            Refused("line 21"),
        ),
        "one_facet.obj": (b"v 0 0 0\nv 9 0 0\nv 0 9 0\nf -3 -2 -1\n", Refused("no volume")),
        "nan.obj": (b"v nan 0 0\nv 1 inf 0\nv 0 1 0\nf 1 2 3\n", Refused("line 1 holds 'nan'")),
        "words.obj": (b"v a b c\nf x y z\n", Refused("line 2 holds 'x'|line 1 holds 'a'")),
        "no_facets.obj": (b"v 0 0 0\nv 1 0 0\n", Refused("0 triangles")),
        "two_corners.obj": (b"v 0 0 0\nv 1 0 0\nf 1 2\n", Refused("line 3 has 2 entries")),
        "two_numbers.obj": (b"v 0 0\nv 1 0 0\nf 1 2 2\n", Refused("line 1 has 2 entries")),
        "reaching_out.obj": (
            b"mtllib ../../../../etc/hostname\n" + obj(vertices, facets),
            Read(1000.0),
        ),
    }


def table_files():
    vertices, facets = cube()
    text = text_ply(vertices, facets)
    binary = binary_ply(vertices, facets)
    return {
        "text.ply": (text, Read(1000.0)),
        "little.ply": (binary, Read(1000.0)),
        "big.ply": (binary_ply(vertices, facets, "big"), Read(1000.0)),
        "count_4e9.ply": (text_ply(vertices, facets, rows=4_000_000_000), Refused("4000000000")),
        "count_4e9_binary.ply": (
            b"ply\nformat binary_little_endian 1.0\nelement vertex 4000000000\nproperty float x\n"
            b"property float y\nproperty float z\nelement face 1\n"
            b"property list uchar int vertex_indices\nend_header\n" + b"\0" * 100,
            Refused("4000000000 vertices"),
        ),
        "cut_short.ply": (binary[:-20], Refused("12 rows of 'face', the file holds 10")),
        "cut_short_text.ply": (text[:-9], Refused("12 rows of 'face', the file holds 11")),
        "list_too_long.ply": (
            binary[:-13] + b"\xff" + binary[-12:],
            Refused("12 rows of 'face', the file holds 11"),
        ),
        "two_corners.ply": (text.replace(b"\n3 ", b"\n2 ", 1), Refused("row 0 .* 2 corners")),
        "index_high.ply": (text.replace(b"\n3 1", b"\n3 91", 1), Refused("vertex 91")),
        "half_index.ply": (text.replace(b"\n3 1", b"\n3 1.5", 1), Refused("vertex -1")),
        "no_end.ply": (text.replace(b"end_header", b"end_head"), Refused("no PLY header")),
        "strange_type.ply": (text.replace(b"float x", b"quad x"), Refused("header line 4")),
        "no_faces.ply": (
            b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nend_header\n0\n",
            Refused("no element 'face'"),
        ),
        "word.ply": (text.replace(b"\n10 ", b"\nten ", 1), Refused("'ten'")),
        "good.off": (off(vertices, facets), Read(1000.0)),
        "cut_short.off": (off(vertices, facets)[:-40], Refused("holds 1[89] of these 20")),
        "wrong_word.off": (off(vertices, facets, "ON"), Refused("begins with 'ON'")),
        "index_high.off": (
            off(vertices, facets).replace(b"\n3 1", b"\n3 91", 1),
            Refused("vertex 91"),
        ),
        "huge_counts.off": (b"OFF\n9000000000 9000000000 0\n", Refused("9000000000 triangles")),
    }


def glb_files():
    vertices, facets = cube(0.01)
    turned = [{"mesh": 0, "scale": [-1, 2, 1], "rotation": [0.5, 0.5, 0.5, 0.5]}]
    many = [{"children": [k + 1] * 10} for k in range(8)] + [{"mesh": 0}]

    def broken(*path_and_value):
        return glb(vertices, facets, lambda tree: set_at(tree, *path_and_value))

    return {
        "good.glb": (glb(vertices, facets), Read(1000.0, "units")),
        "turned.glb": (glb(vertices, facets, nodes=turned), Read(2000.0, "units")),
        "cut_short.glb": (glb(vertices, facets, cut=50), Refused(r"says \d+ bytes, the file")),
        "not_glb.glb": (b"glub" * 20, Refused("80 bytes begins with b'glub'")),
        "version_1.glb": (
            b"glTF\x01\0\0\0" + glb(vertices, facets)[8:],
            Refused("version 1, version 2"),
        ),
        "accessor_long.glb": (
            broken("accessors", 0, "count", 10**9),
            Refused("1000000000 entries"),
        ),
        "accessor_negative.glb": (broken("accessors", 0, "count", -3), Refused("-3 entries")),
        "index_high.glb": (broken("accessors", 0, "count", 7), Refused("vertex 7")),
        "no_position.glb": (
            broken("meshes", 0, "primitives", 0, "attributes", {}),
            Refused("KeyError"),
        ),
        "missing_mesh.glb": (broken("nodes", 0, "mesh", 5), Refused("number 5 of meshes")),
        "packed_extension.glb": (
            broken("extensionsRequired", ["EXT_packed"]),
            Refused("'EXT_packed'"),
        ),
        "outside.glb": (broken("buffers", 0, "uri", "../secret.bin"), Refused("outside the file")),
        "cycle.glb": (broken("nodes", 0, "children", [0]), Refused("contains itself")),
        "instances_1e8.glb": (
            glb(vertices, facets, nodes=many),
            Refused("more than 10000 copies"),
        ),
        "text_for_number.glb": (broken("accessors", 0, "count", "many"), Refused("breaks glTF")),
        "nested_deep.glb": (
            struct.pack("<4sII", b"glTF", 2, 20 + 100_000)
            + struct.pack("<II", 100_000, 0x4E4F534A)
            + b"[" * 100_000,
            Refused("100000 bytes is no JSON"),
        ),
    }


def other_files():
    return {
        "part.step": (b"ISO-10303-21;\nHEADER;\n", Refused("END-ISO-10303-21")),
        "garbage.stp": (b"hello" * 30, Refused("150 bytes has no 'ISO-10303-21;'")),
        "hollow.step": (
            b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1=nonsense(;\nENDSEC;\nEND-ISO-10303-21;\n",
            Refused("STEP reader could not use it|0 triangles"),
        ),
        "picture.png": (b"\x89PNG", Refused("'.png' is not readable")),
        "no_ending": (b"solid", Refused("without an ending")),
    }


def all_files():
    """Name -> (bytes, Refused or Read) of every file in the zoo."""
    zoo = {}
    for make in (
        stl_files,
        shape_files,
        packed_files,
        obj_files,
        table_files,
        glb_files,
        other_files,
    ):
        zoo.update(make())
    return zoo
