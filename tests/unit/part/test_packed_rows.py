"""Vertices and triangles of a 3MF file, however they are spelt and wherever the pieces are cut."""

import re

import numpy as np
import pytest
import solids
from broken_files import cube, model, packed

from buildplan.errors import MeshError
from buildplan.part import read_part


def read(tmp_path, text):
    path = tmp_path / "part.3mf"
    path.write_bytes(packed(text))
    return read_part(path)


PLAIN = model(*cube())

SPELLINGS = {
    "line by line": PLAIN.replace("/><", "/>\n   <"),
    "a comment among the rows": PLAIN.replace("/><triangle", "/><!-- 7 --><triangle", 3),
    "single quotes": PLAIN.replace('x="', "x='").replace('" y="', "' y=\""),
    "attributes in another order": re.sub(r'(x="\S+") (y="\S+")', r"\2 \1", PLAIN),
    "colours on triangles": PLAIN.replace(' v3="', ' v3="').replace(
        '"/><tri', '" pid="9" p1="0"/><tri'
    ),
    "elements that are not empty": PLAIN.replace("/><vertex", "></vertex><vertex"),
    "characters spelt as numbers": PLAIN.replace('x="10.0"', 'x="&#49;0.0"'),
    "a name space prefix": re.sub(r"<(/?)(\w)", r"<\1c:\2", PLAIN).replace("xmlns=", "xmlns:c="),
    "tags in a comment": PLAIN.replace("<resources>", "<!-- <vertices><vertex --><resources>"),
    "a marked section": PLAIN.replace(
        "<resources>", "<metadata><![CDATA[<triangles><triangle]]></metadata><resources>"
    ),
    "numbers with 17 digits": PLAIN.replace('"10.0"', '"10.0000000000000001"'),
    "white space before the row's end": PLAIN.replace('"/><', '"  />\t<'),
    "attributes on the lists": PLAIN.replace("<vertices>", '<vertices q="1">').replace(
        "<triangles>", '<triangles pid="1" >'
    ),
}


@pytest.mark.parametrize("spelling", sorted(SPELLINGS))
@pytest.mark.parametrize("piece", [1, 7, 64, 1 << 20])
def test_every_spelling_of_a_mesh_gives_the_same_part(spelling, piece, tmp_path, monkeypatch):
    monkeypatch.setattr("buildplan.part.formats.threemf.CHUNK", piece)
    assert SPELLINGS[spelling] != PLAIN
    part = read(tmp_path, SPELLINGS[spelling])
    assert part.volume_mm3 == pytest.approx(1000.0, rel=1e-12)
    assert (part.closed, len(part.facets)) == (True, 12)


def test_coordinates_are_read_to_the_last_bit(tmp_path):
    vertices, facets = solids.arrays(solids.sphere(20.0, 48))
    path = tmp_path / "part.3mf"
    path.write_bytes(packed(model(vertices.tolist(), facets)))
    part = read_part(path)
    assert set(map(tuple, part.vertices_mm.tolist())) == set(map(tuple, vertices.tolist()))
    assert np.array_equal(part.facets, facets) or part.volume_mm3 > 0


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (' v2="', ' v2="1', r"triangle \d+ of object 1 names the vertices"),
        (' v2="', ' v2="-5', "triangle 0 of object 1 names the vertices"),
        (' v2="', ' v2="0.5', "triangle 0 of object 1 names the vertices"),
        (' v2="', ' w2="', "triangle 0 of object 1 needs three numbers v1, v2, v3"),
        (' y="', ' y="1_', "vertex 0 of object 1 needs three numbers|not finite"),
        (' y="', ' y="nan', "vertex 0 of object 1 needs three numbers|not finite"),
        ("/><triangle", "/><triangle<", "XML is broken in line 1"),
        ("/><triangle", "/>\n\n&oops;<triangle", "XML is broken in line 3"),
    ],
)
def test_a_wrong_row_is_refused_with_its_number(old, new, words, tmp_path):
    with pytest.raises(MeshError, match=words):
        read(tmp_path, PLAIN.replace(old, new, 1))


def test_two_objects_do_not_share_their_rows(tmp_path):
    other = PLAIN[PLAIN.index("<mesh>") : PLAIN.index("</object>")]
    text = model(
        *cube(),
        objects=f'<object id="2" type="model">{other}</object>',
        item='<item objectid="1"/><item objectid="2" transform="1 0 0 0 1 0 0 0 1 50 0 0"/>',
    )
    part = read(tmp_path, text)
    assert (part.shells, part.volume_mm3) == (2, pytest.approx(2000.0))


def test_text_in_two_byte_letters_goes_through_the_parser_alone(tmp_path):
    path = tmp_path / "wide.3mf"
    import io
    import zipfile

    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as file:
        file.writestr("3D/3dmodel.model", PLAIN.replace("UTF-8", "UTF-16").encode("utf-16"))
    path.write_bytes(out.getvalue())
    assert read_part(path).volume_mm3 == pytest.approx(1000.0)
