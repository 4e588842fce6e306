"""Support columns under curved bodies against closed forms.

Source: solid geometry, volume of the body of revolution below a curve (any calculus text).
"""

import math

import hanging_solids as hs
import pytest
import solids


@pytest.mark.parametrize("layer_mm", [0.2, 0.1, 0.05])
def test_a_sphere_is_carried_where_it_leans_past_the_limit(layer_mm):
    # lower half, lean over 45 degrees where r < R sin 45; columns from the platform to the sphere:
    # V = integral_0^c (R - sqrt(R^2 - r^2)) 2 pi r dr = pi c^2 R - 2 pi / 3 (R^3 - (R^2 - c^2)^1.5)
    radius = 20.0
    c = radius * math.sin(math.pi / 4)
    exact = math.pi * c**2 * radius - 2 * math.pi / 3 * (radius**3 - (radius**2 - c**2) ** 1.5)
    assert exact == pytest.approx(1735.1, abs=0.05)
    got = hs.volume(solids.sphere(radius, 256), layer_mm=layer_mm)
    assert got == pytest.approx(exact, rel=0.02)


@pytest.mark.parametrize("lean", [50.0, 60.0, 70.0])
def test_a_wide_cone_is_carried_whole(lean):
    # between the platform and a cone from radius a = 5 to b over h = 10: the cylinder of radius b
    # less the frustum, pi b^2 h - pi h / 3 (a^2 + a b + b^2), less the ring under the first layer
    a, h, layer = 5.0, 10.0, 0.2
    slope = math.tan(math.radians(lean))
    b = a + h * slope
    exact = math.pi * b**2 * h - math.pi * h / 3 * (a**2 + a * b + b**2)
    # layers stand at their middles: half a step is missing at the top, half a step at the foot
    last, first = b - slope * layer / 2, a + slope * layer / 2
    exact -= math.pi * (b**2 - last**2) * (h - layer / 4) + math.pi * (first**2 - a**2) * layer / 4
    assert hs.volume(hs.cone(lean, 256)) == pytest.approx(exact, rel=0.02)
