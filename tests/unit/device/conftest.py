"""The sprout house's device, studied once for all tests of the chain."""

import pytest

from buildplan.build import load_build
from buildplan.demo import demo_folder
from buildplan.device.chain.placed import place_parts
from buildplan.device.chain.run import study_device
from buildplan.part.read import read_part
from buildplan.tables import feedstocks


@pytest.fixture(scope="session")
def demo_build():
    return load_build(demo_folder())


@pytest.fixture(scope="session")
def demo_placed(demo_build):
    rows = [
        (
            read_part(request.path, unit=request.unit, name=request.name, health="quick"),
            request.poses,
            request.moves_with,
        )
        for request in demo_build.parts
    ]
    return place_parts(rows, clear=demo_build.device.device.clear_parts)


@pytest.fixture(scope="session")
def demo_study(demo_build, demo_placed):
    return study_device(
        demo_build.device,
        demo_placed,
        feedstocks={request.name: request.feedstock for request in demo_build.parts},
        materials=[row for row in feedstocks().values() if row.process == "extrusion"],
        energy_cost_kwh=0.32,
    )
