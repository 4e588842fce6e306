"""Damaged files of every format: a part or one MeshError, never anything else."""

import math
import random
from functools import partial

import broken_files
import numpy as np
import pytest
import solids
from manifold3d import Error, Manifold, Mesh64

from buildplan.errors import MeshError
from buildplan.part import part_from_mesh, read_part

SEEDS = {
    "a.stl": broken_files.stl(*broken_files.cube()),
    "b.stl": broken_files.text_stl(*broken_files.cube()).encode(),
    "c.3mf": broken_files.packed(broken_files.model(*broken_files.cube())),
    "d.obj": broken_files.obj(*broken_files.cube()),
    "e.ply": broken_files.text_ply(*broken_files.cube()),
    "f.ply": broken_files.binary_ply(*broken_files.cube()),
    "g.ply": broken_files.binary_ply(*broken_files.cube(), "big"),
    "h.off": broken_files.off(*broken_files.cube()),
    "i.glb": broken_files.glb(*broken_files.cube(0.01)),
}
WORDS = [b"-1", b"1e999", b"nan", b"99999999999999999999", b"\0", b"\xff\xff\xff\xff", b"0", b" "]


def damage(data, chance):
    data = bytearray(data)
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(data))
        kind = chance.randrange(6)
        if kind == 0:
            data[at] = chance.randrange(256)
        elif kind == 1:
            del data[at : at + chance.randint(1, 40)]
        elif kind == 2:
            data[at:at] = chance.choice(WORDS)
        elif kind == 3:
            data[at : at + 4] = chance.choice(WORDS)
        elif kind == 4:
            cut = chance.randrange(len(data))
            data[at:at] = data[cut : cut + chance.randint(1, 60)]
        else:
            data[at] ^= 1 << chance.randrange(8)
        data = data or bytearray(b"x")
    return bytes(data)


def attempt(make):
    """The part, or the words of its refusal."""
    try:
        return make(), ""
    except MeshError as refusal:
        return None, str(refusal)


def try_to_read(path):
    part, refusal = attempt(lambda: read_part(path))
    if part is None:
        assert "\n" not in refusal
        return False
    assert math.isfinite(part.volume_mm3)
    assert part.volume_mm3 > 0.0
    assert len(part.facets) > 0
    assert part.closed == (part.health.grade != "estimate")
    return True


def fuzz(name, folder, rounds, seed):
    chance = random.Random(seed)
    path = folder / name
    read = 0
    for _ in range(rounds):
        path.write_bytes(damage(SEEDS[name], chance))
        read += try_to_read(path)
    return read


@pytest.mark.parametrize("name", sorted(SEEDS))
def test_damaged_files_are_read_or_refused_in_one_line(name, tmp_path):
    assert fuzz(name, tmp_path, 60, 1) < 60


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(SEEDS))
@pytest.mark.parametrize("seed", range(2, 6))
def test_many_damaged_files_are_read_or_refused_in_one_line(name, seed, tmp_path):
    assert fuzz(name, tmp_path, 1500, seed) < 1500


def break_mesh(vertices, facets, rng):
    """Facets taken away, turned, doubled, moved; vertices split: a few of each."""
    for _ in range(rng.integers(1, 5)):
        kind = rng.integers(6)
        some = rng.choice(len(facets), min(rng.integers(1, 12), len(facets) - 4), replace=False)
        if kind == 0:
            facets = np.delete(facets, some, axis=0)
        elif kind == 1:
            facets = facets.copy()
            facets[some] = facets[some][:, ::-1]
        elif kind == 2:
            facets = np.vstack([facets, facets[some]])
        elif kind == 3:
            facets = np.vstack([facets, rng.choice(len(vertices), (len(some), 3))])
        elif kind == 4:
            vertices = vertices.copy()
            vertices[facets[some, 0]] += rng.normal(0.0, 3.0, (len(some), 3))
        else:
            soup = vertices[facets[some]].reshape(-1, 3) + rng.normal(0.0, 1e-5, (1, 3))
            fresh = np.arange(len(soup)).reshape(-1, 3) + len(vertices)
            facets = np.vstack([np.delete(facets, some, axis=0), fresh])
            vertices = np.vstack([vertices, soup])
    return vertices, facets


def repair_many(rounds, seed):
    bodies = [solids.sphere(20.0, 32), solids.tee(), solids.tub(segments=16), solids.tube()]
    meshes = [solids.arrays(body) for body in bodies]
    rng = np.random.default_rng(seed)
    closed = 0
    for _ in range(rounds):
        vertices, facets = break_mesh(*meshes[rng.integers(len(meshes))], rng)
        widest = rng.choice([None, 1e3])
        part, refusal = attempt(partial(part_from_mesh, vertices, facets, fill_holes_mm=widest))
        if part is None:
            assert "\n" not in refusal
            continue
        assert part.volume_mm3 > 0.0
        assert part.closed == (part.health.grade != "estimate")
        said = [finding.what for finding in part.findings if finding.check == "repair"]
        assert set(part.health.repairs) <= set(said)
        if abs(part.health.volume_change_frac) > 0.01:
            assert any(f.severity == "caution" for f in part.findings)
        if part.closed:
            solid = Manifold(Mesh64(np.array(part.vertices_mm), np.array(part.facets, np.uint64)))
            assert solid.status() == Error.NoError
            # of a wreck that is patched all over, manifold3d folds facets away and changes it
            if part.health.patched_frac < 0.02:
                assert solid.volume() == pytest.approx(part.volume_mm3, rel=1e-6)
        closed += part.closed
    return closed


def test_broken_meshes_are_repaired_and_owned_up_to_or_refused():
    assert repair_many(60, 1) > 20


@pytest.mark.slow
def test_many_broken_meshes_are_repaired_and_owned_up_to_or_refused():
    assert repair_many(3000, 2) > 1000
