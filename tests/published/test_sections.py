"""Sections and their sums against elementary solid geometry and published meshes.

The bodies are polyhedra with vertices exactly on the section planes, so that a section is a
regular polygon whose area is the circle's times n sin(2 pi / n) / (2 pi) and the closed forms are
met to the last digits, not to some mesh tolerance.

Sources: as in reference_values.toml (elementary solid geometry; Weisstein, E. W., "Steinmetz
Solid", MathWorld, eq. 7 and 8; npm packages bunny 1.0.1 and stl-models 0.12.0).
"""

import json
import math
import re

import numpy as np
import pytest
from bare_parts import bare_part, solid_part
from manifold3d import CrossSection, Manifold
from solids import box

from buildplan.process.layers import cut_layers


def turned_body(radius, height, n):
    """A closed body of revolution from its radii at heights; the first and last radius are 0."""
    turn = 2.0 * np.pi * np.arange(n) / n
    circle = np.column_stack([np.cos(turn), np.sin(turn), np.zeros(n)])
    rings = [r * circle + [0.0, 0.0, z] for r, z in zip(radius[1:-1], height[1:-1], strict=True)]
    vertices = np.vstack([[[0, 0, height[0]]], *rings, [[0, 0, height[-1]]]])
    facets = []
    last = len(vertices) - 1
    for i in range(n):
        j = (i + 1) % n
        facets.append([0, 1 + j, 1 + i])
        facets.append([last, last - n + i, last - n + j])
        for ring in range(len(rings) - 1):
            a, b = 1 + ring * n, 1 + (ring + 1) * n
            facets += [[a + i, a + j, b + j], [a + i, b + j, b + i]]
    return bare_part(vertices, facets)


def ngon_share(n):
    """Area of a regular n-gon over that of its circle."""
    return n * np.sin(2.0 * np.pi / n) / (2.0 * np.pi)


def ball(radius, planes, n):
    z = np.concatenate([[-radius], planes, [radius]])
    return turned_body(np.sqrt(np.maximum(0.0, radius**2 - z**2)), z, n)


def mid_planes(radius, count):
    return -radius + 2.0 * radius * (np.arange(count) + 0.5) / count


def test_section_of_a_sphere(reference):
    # r = 10 cut 6 above its middle: the middle of layer 8 when a layer is 32/17 mm
    layer_mm = 32.0 / 17.0
    part = ball(10.0, np.array([-6.0, 0.0, 6.0]), 64)
    layers = cut_layers(part, layer_mm, simplify_mm=0.0)
    assert layers.z_mm[8] - 10.0 == pytest.approx(6.0, abs=1e-12)
    share = reference["geometry", "ngon_area_ratio_64"]["expected"]
    assert reference.agrees("geometry", "sphere_section_area", layers.area_mm2[8] / share)
    side = 2.0 * 8.0 * np.sin(np.pi / 64)
    assert layers.perimeter_mm[8] == pytest.approx(64 * side, rel=1e-9)


def test_the_64_cornered_section_has_the_published_share_of_its_circle(reference):
    part = ball(10.0, np.array([-6.0, 0.0, 6.0]), 64)
    layers = cut_layers(part, 32.0 / 17.0, simplify_mm=0.0)
    assert reference.agrees("geometry", "ngon_area_ratio_64", layers.area_mm2[8] / (np.pi * 8.0**2))


@pytest.mark.parametrize("count", [20, 50, 101])
def test_volume_of_a_sphere_from_its_sections(reference, count):
    # the middle rule over pi (r^2 - z^2) exceeds the integral by exactly pi h^2 r / 6
    layer_mm = 20.0 / count
    layers = cut_layers(ball(10.0, mid_planes(10.0, count), 96), layer_mm, simplify_mm=0.0)
    assert len(layers.z_mm) == count
    volume = layers.area_mm2 @ layers.thickness_mm / ngon_share(96)
    exact = volume - np.pi * layer_mm**2 * 10.0 / 6.0
    assert reference.agrees("geometry", "sphere_r10_volume", exact)


def test_sections_of_a_cone_are_similar():
    # circumradius R (1 - z / h): area falls with the square, perimeter in proportion
    part = turned_body(np.array([0.0, 12.0, 0.0]), np.array([0.0, 0.0, 30.0]), 40)
    layers = cut_layers(part, 0.5, simplify_mm=0.0)
    radius = 12.0 * (1.0 - layers.z_mm / 30.0)
    np.testing.assert_allclose(layers.area_mm2, np.pi * radius**2 * ngon_share(40), rtol=1e-9)
    np.testing.assert_allclose(layers.perimeter_mm, 80 * radius * np.sin(np.pi / 40), rtol=1e-9)


def test_volume_of_the_bicylinder_from_its_square_sections(reference):
    # sections are squares of side 2 sqrt(r^2 - z^2); the middle rule exceeds 16/3 r^3 by 2/3 r h^2
    count, scale = 40, 10.0
    z = mid_planes(1.0, count)
    half = np.sqrt(1.0 - z * z)
    radius = np.concatenate([[0.0], math.sqrt(2.0) * half, [0.0]])
    part = turned_body(scale * radius, scale * np.concatenate([[-1.0], z, [1.0]]), 4)
    layers = cut_layers(part, 2.0 * scale / count, simplify_mm=0.0)
    assert len(layers.z_mm) == count
    np.testing.assert_allclose(layers.area_mm2, scale**2 * 4.0 * half**2, rtol=1e-9)
    volume = layers.area_mm2 @ layers.thickness_mm / scale**3
    assert reference.agrees(
        "geometry", "bicylinder_volume", volume - 2.0 / 3.0 * (2.0 / count) ** 2
    )


def test_volume_of_a_torus_from_its_sections(reference):
    # by Pappus 2 pi^2 R r^2; each section is a ring of 4 pi R sqrt(r^2 - z^2)
    big, small, sides, turns = 20.0, 5.0, 400, 720
    angle = 2.0 * np.pi * np.arange(sides) / sides
    outline = np.column_stack([big + small * np.cos(angle), small * np.sin(angle)])
    layers = cut_layers(solid_part(Manifold.revolve(CrossSection([outline]), turns)), 0.05)
    z = layers.z_mm - small
    expected = 4.0 * np.pi * big * np.sqrt(small**2 - z**2)
    np.testing.assert_allclose(layers.area_mm2[5:-5], expected[5:-5], rtol=2e-3)
    volume = layers.area_mm2 @ layers.thickness_mm
    true = reference["geometry", "torus_volume"]["expected"]
    assert volume == pytest.approx(true * ngon_share(sides) * ngon_share(turns), rel=3e-4)
    np.testing.assert_array_equal(np.diff(layers.island_off), 2)


@pytest.mark.parametrize("layer_mm", [0.1, 0.2, 0.4])
def test_volume_of_a_hollow_box_from_its_sections(reference, layer_mm):
    body = box(100, 60, 40) - box(96, 56, 36, (2, 2, 2))
    layers = cut_layers(solid_part(body, shells=2), layer_mm)
    volume = layers.area_mm2 @ layers.thickness_mm
    assert reference.agrees("geometry", "hollow_box_volume", volume)


def test_volume_of_the_npm_bunny_from_its_sections(reference, npm_mesh):
    text = npm_mesh("bunny", "index.js").read_text("utf-8")
    arrays = {
        key: json.loads(re.search(rf"exports\.{key}\s*=\s*(\[\[.*?\]\])", text, re.S)[1])
        for key in ("positions", "cells")
    }
    part = bare_part(10.0 * np.array(arrays["positions"]), arrays["cells"])
    layers = cut_layers(part, 0.1, simplify_mm=0.0)
    volume = layers.area_mm2 @ layers.thickness_mm / 1000.0
    figures = reference["geometry", "mesh_bunny_low"]["expected"]
    assert len(part.facets) == figures["faces"]
    assert volume == pytest.approx(figures["volume"], rel=2e-5)


def test_volume_of_the_open_npm_bunny_from_its_sections(reference, npm_mesh):
    # 223 open half-edges around holes in the base; 0.156 m wide, so it is read in metres
    path = npm_mesh("stl-models", "objects/bunny.bin.stl")
    raw = np.frombuffer(
        path.read_bytes()[84:], dtype=[("n", "<f4", 3), ("v", "<f4", 9), ("a", "<u2")]
    )
    corners = 1000.0 * raw["v"].reshape(-1, 3).astype(np.float64)
    vertices, facets = np.unique(corners, axis=0, return_inverse=True)
    part = bare_part(vertices, facets.reshape(-1, 3), closed=False)
    layers = cut_layers(part, 0.2)
    figures = reference["geometry", "mesh_bunny_stl"]["expected"]
    assert len(part.facets) == figures["faces"]
    volume = layers.area_mm2 @ layers.thickness_mm / 1e9
    assert volume == pytest.approx(figures["volume_not_closed"], rel=0.01)
    assert 5.0 < layers.gap_mm.max() < 60.0
    assert (layers.gap_mm > 0).mean() < 0.6
