"""Findings of the paths: thin walls and slits, said in words with their place on the part."""

import itertools
from dataclasses import replace

import numpy as np
import shapely
from fill_samples import layers_of, make_recipe, walls_of

from buildplan.process.paths import plan_paths
from buildplan.process.paths.findings import find_thin_and_slits
from buildplan.process.walls import plan_walls

NUMBERS = itertools.count()


def changed(walls, **arrays):
    """Walls with other numbers, and so with another content key."""
    return replace(walls, key=f"{walls.key}:{next(NUMBERS)}", **arrays)


def sample(**changes):
    sections = [shapely.box(0, 0, 30, 20).union(shapely.box(40, 0, 50, 9))] * 10
    layers = layers_of(sections, origin_mm=(100.0, 200.0, 300.0))
    recipe = make_recipe()
    return layers, recipe, changed(walls_of(layers, recipe), **changes)


def islands(layers, value, at):
    array = np.full(layers.layer_off[-1], np.inf if value < 1.0 else 0.0)
    array[at] = value
    return array


def test_a_part_without_thin_walls_or_slits_has_no_finding():
    layers, recipe, walls = sample()
    assert find_thin_and_slits(layers, recipe, walls) == ()
    assert plan_paths(layers, recipe, walls=walls).findings == ()


def test_a_thin_wall_is_placed_in_the_coordinates_of_the_part():
    layers, recipe, walls = sample()
    walls = changed(walls, thin_mm=islands(layers, 0.4, [7]))
    (finding,) = find_thin_and_slits(layers, recipe, walls)
    assert (finding.check, finding.severity, finding.measured) == ("thin wall", "note", "0.40 mm")
    assert "1 of 10 layers" in finding.what
    assert finding.where.box_mm == (140.0, 200.0, 300.6, 150.0, 209.0, 300.8)
    assert "layer 4" in finding.where.text


def test_walls_much_thinner_than_a_bead_are_a_caution_when_they_are_more_than_tips():
    layers, recipe, walls = sample()
    walls = changed(walls, thin_mm=islands(layers, 0.2, [1]))
    (finding,) = find_thin_and_slits(layers, recipe, walls)
    assert finding.severity == "caution"
    sections = [shapely.box(0, 0, 30, 20)] * 40
    tall = layers_of(sections)
    tips = replace(walls_of(tall, recipe), thin_mm=islands(tall, 0.2, [39]))
    (finding,) = find_thin_and_slits(tall, recipe, tips)
    assert (finding.severity, finding.measured) == ("note", "0.20 mm")


def test_slits_say_how_many_whole_beads_would_save_what():
    layers, recipe, walls = sample()
    some = changed(walls, slit_mm2=islands(layers, 25.0, slice(0, None, 2)))
    (finding,) = find_thin_and_slits(layers, recipe, some)
    assert (finding.check, finding.severity) == ("slit", "note")
    assert "1.8 mm, 4 beads of 0.45 mm" in finding.remedy
    few = changed(walls, slit_mm2=islands(layers, 5.0, slice(0, None, 2)))
    assert find_thin_and_slits(layers, recipe, few) == ()


def test_a_real_wall_of_three_millimetres_is_named_with_its_slit_and_whole_beads():
    tub = shapely.Point(0, 0).buffer(70, quad_segs=64)
    layers = layers_of([tub.difference(tub.buffer(-3.0))] * 60)
    recipe = make_recipe()
    (finding,) = find_thin_and_slits(layers, recipe, plan_walls(layers, recipe))
    assert finding.what == "a wall of 3 mm is not a whole number of beads"
    assert finding.measured.startswith("a slit of 1.20 mm is left")
    assert "2.7 mm, 6 beads, and lay 3 wall beads" in finding.remedy
    assert finding.severity == "caution"


def test_dense_slits_would_save_all_of_their_volume():
    layers, recipe, walls = sample()
    walls = changed(walls, slit_mm2=islands(layers, 90.0, slice(0, None, 2)))
    sparse, dense = (
        find_thin_and_slits(layers, replace(recipe, slit_fill=kind), walls)[0].remedy
        for kind in ("sparse", "dense")
    )
    assert "that saves its many short moves" in sparse
    assert "saves the 0.2 cm³" in dense
