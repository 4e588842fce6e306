"""A small sound build file, laid out in a folder, with changes that spoil it."""

SOUND = """[build]
name = "garden gate"
about = "opens itself"
revision = "B"
currency = "EUR"
energy_cost_kwh = 0.3
own_time_cost_h = 12
data = "invented"
printers = ["north bench", "mid_vat"]

[[printer]]
like = "small_moving_bed"
name = "north bench"
width_mm = 235

[[feedstock]]
like = "PETG"
price_cost_kg = 19.5

[[recipe]]
like = "everyday"
name = "shell"
infill_frac = 0.1

[[part]]
name = "roof vent"
file = "box.stl"
unit = "mm"
quantity = 2
feedstock = "petg"
recipe = "shell"
printers = ["north bench"]
about = "lid"
orientation = [[0, -1, 0], [1, 0, 0], [0, 0, 1]]
moves_with = "hinge"
poses = [
  [[1, 0, 0, 5], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]],
  [[0.0, -1.0, 0.0, 5.0], [1.0, 0.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0], [0.0, 0.0, 0.0, 1.0]],
]

[[part.feature]]
name = "left hinge"
kind = "hinge"
box_mm = [0, 0, 0, 10, 8, 8.5]

[[part.keep_out]]
name = "lettering"
box_mm = [5, 0, 5, 55, 1, 20]
about = "shows"

[[part]]
name = "ring"
file = "box.stl"
feedstock = "standard photopolymer"

[[bought]]
name = "screw M3 x 8"
quantity = 12
pack = 50
price_cost = 4.2
lead_d = 3
used_in = "roof vent"

[[bought]]
name = "fan"
price_cost = 5
needed = false

[device]
ambient_c = 35.0

[[service]]
name = "Alder"
lead_d = 5
"""


def lay_out(folder, text=SOUND, changes=()):
    """A build file in a folder with the mesh it names; each (old, new) must change its text."""
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    folder.mkdir(exist_ok=True)
    (folder / "box.stl").write_text("solid box\nendsolid box\n")
    file = folder / "build.toml"
    file.write_text(text, encoding="utf-8")
    return file
