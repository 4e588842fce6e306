"""A small build with a supply, warm parts, orders, hours and a print log: cheap to plan."""

import shutil
from pathlib import Path

from buildplan.demo import demo_folder

PARTS = ("bottom_plate", "servo_arm")

HEAD = """
[build]
name = "small house"
currency = "EUR"
energy_cost_kwh = 0.30
own_time_cost_h = 12.0
printers = ["large_moving_bed"]
"""

PART = """
[[part]]
name = "{name}"
file = "{name}.stl"
unit = "mm"
feedstock = "PETG"
recipe = "{recipe}"
"""

SLOW = """
[[recipe]]
name = "slow"
like = "everyday"
outline_mm_s = 15.0
wall_mm_s = 20.0
infill_mm_s = 20.0
floor_roof_mm_s = 20.0
"""

REST = """
[[bought]]
name = "computer"                       # the comment stays
price_cost = 62.0
price_low_cost = 55.0
price_high_cost = 80.0
lead_d = 4.0
supplier = "Fern"
state = "to order"

[[bought]]
name = "servo"
price_cost = 15.0
lead_d = 5.0
supplier = "Fern"

[[bought]]
name = "window film"
price_cost = 4.6
lead_d = 7.0
supplier = "Willow"

[attended]
first_day = "2031-03-17"
times = [
  { days = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"], start = "08:00", end = "22:00" },
]

[[assembly]]
name = "put it together"
after = ["bottom_plate", "servo_arm", "computer", "servo", "window film"]
work_h = 2.0

[device]
ambient_c = 35.0

[power.source]
name = "12 V supply"
supply_v = 12.0
limit_a = 3.0
wire_awg = 20

[[power.converter]]
name = "to5"
feed = "source"
out_v = 5.0
limit_a = 4.0
idle_w = 0.1

[[power.load]]
name = "computer"
feed = "to5"
kind = "power"
idle_a = 0.5
count_a = 1.5
peak_a = 1.8
least_v = 4.6
wire_awg = 20

[[power.load]]
name = "camera"
feed = "to5"
via = "computer"
idle_a = 0.02
count_a = 0.25
peak_a = 0.3
least_v = 4.0

[[power.load]]
name = "servo"
feed = "to5"
idle_a = 0.01
count_a = 0.1
peak_a = 2.0
least_v = 4.0
wire_awg = 20

[[power.mode]]
name = "idle"
share_frac = 0.8

[[power.mode]]
name = "count"
share_frac = 0.2

[heat.bay]
part = "bottom_plate"
wall_mm = 3.0
height_mm = 100.0
roof_mm2 = 20000.0
sides_mm2 = 40000.0
bottom_mm2 = 20000.0

[[heat.source]]
name = "computer"
loads = ["computer"]
area_mm2 = 19000.0
limit_c = 85.0
mount = "printed"
"""


def write_build(folder: Path, *, whole: bool = True, slow: bool = False) -> Path:
    """The build file in a folder, its meshes beside it.

    Args:
        folder: Made where it is not there.
        whole: Off: two parts that print in some hours, and nothing else.
        slow: The plate prints so slowly that it is a long print.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for name in PARTS:
        shutil.copy(demo_folder() / f"{name}.stl", folder)
    recipes = ("slow" if slow else "everyday", "everyday")
    text = HEAD + (SLOW if slow else "")
    for name, recipe in zip(PARTS, recipes, strict=True):
        text += PART.format(name=name, recipe=recipe)
    path = folder / "build.toml"
    path.write_text(text + (REST if whole else ""), "utf-8")
    return path
