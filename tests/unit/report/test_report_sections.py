"""Sections of the report: parts painted where something was found, ways up, build cycles."""

import io
import re
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from buildplan.plan.first import first_step, list_first
from buildplan.report import style
from buildplan.report.cycles_section import cycles_heading, cycles_section, own_saved_h
from buildplan.report.embed import FILLS_DARK
from buildplan.report.page import report_page
from buildplan.report.parts_section import PIN_FRAC, parts_section
from buildplan.report.platform_picture import FILLS
from buildplan.report.ways_section import ways_heading, ways_line, ways_section


@pytest.fixture(scope="module")
def page(troubled):
    return report_page(troubled)


@pytest.fixture(scope="module")
def parts(troubled):
    return parts_section(troubled, None)


def test_a_part_with_a_stop_is_shown_large_with_its_facets_painted(parts):
    large = next(part for part in parts["large"] if part["name"] == "push rod")
    assert large["painted"] == ["stop", "caution"]
    shown = [(f["severity"], bool(f["src"])) for f in large["findings"]]
    assert shown[:4] == [("stop", True), ("stop", False), ("caution", True), ("caution", True)]
    assert "Close view of the push rod" in large["findings"][0]["alt"]
    more = next(f for f in large["findings"] if f["what"] == "A bridge of 4 mm")
    assert more["more"] == ["A bridge of 5 mm.", "A bridge of 6 mm."]


def test_pins_never_cover_each_other(parts):
    for part in parts["large"]:
        places = [(pin["x"], pin["y"]) for pin in part["pins"]]
        for k, (x, y) in enumerate(places):
            for a, b in places[:k]:
                assert abs(x - a) >= PIN_FRAC[0] - 0.02 or abs(y - b) >= PIN_FRAC[1] - 0.02


def test_the_heading_of_the_ways_says_what_to_turn_and_what_it_saves(plan, troubled, rod):
    assert ways_heading(plan) == "All parts lie well as placed"
    assert ways_heading(troubled).startswith("Turn the push rod: 12\u00a0min less")
    assert "better turned" in ways_line(rod.orientations)
    section = ways_section(troubled)
    assert section["parts"][0]["name"] == "push rod"
    assert [part["open"] for part in section["parts"]].count(True) == 2
    rows = section["parts"][0]["rows"]
    assert [row["placed"] for row in rows].count(True) == 1
    assert rows[0]["good"] == "Lies on its side: no support"
    assert rows[0]["bad"] == "It is taller"


def test_ways_that_are_as_good_are_not_said_to_be_worse(plan):
    servo = next(item for item in plan.parts if item.name == "servo_arm")
    assert "the same hours and supports" in ways_line(servo.orientations)
    alone = replace(servo.orientations, best=())
    assert ways_line(alone) == "no other way that fits was found"


def test_build_cycles_say_what_is_saved_and_what_is_at_stake(plan):
    section = cycles_section(plan)
    cycles = [cycle for one in plan.cycles for cycle in one.cycles]
    saved_min = 60 * sum(own_saved_h(cycle) for cycle in cycles)
    assert f"{saved_min:.0f}\u00a0min less of your own time" in cycles_heading(plan)
    assert "5 pieces" not in cycles_heading(plan)  # the hinge pin counts twice
    row = section["printers"][0]["rows"][0]
    assert float(row["mean"][0]) <= float(row["worst"][0])
    assert "Alone on its printer: camera ring (vat corner)" in section["sub"]
    assert "_" not in section["printers"][0]["reason"]


def test_a_drawing_takes_the_colours_of_the_page_and_leaves_the_page_alone(plan):
    drawings = [d for one in cycles_section(plan)["printers"] for d in one["drawings"]]
    for text in drawings:
        assert "<style" not in text
        assert "aria-label" in text
        for light, _ in style.TOKENS.values():
            assert light.lower() not in text
    ids = re.findall(r'id="([^"]+)"', "".join(drawings))
    assert len(ids) == len(set(ids))


def test_words_on_the_tints_of_a_platform_are_legible_in_both_themes():
    for light, dark in zip(FILLS, FILLS_DARK, strict=True):
        assert style.contrast_frac(style.TOKENS["ink"][0], light) >= 7.0
        assert style.contrast_frac(style.TOKENS["ink"][1], dark) >= 7.0


def test_the_page_has_every_section_and_asks_nothing_of_a_host(page):
    for name in ("first", "parts", "ways", "cycles", "hours", "bill", "trust", "cautions"):
        assert f'<section id="{name}">' in page
        assert f'href="#{name}"' in page
    assert "http://" not in page
    assert "https://" not in page.replace("https://scripts.sil.org", "")
    assert page.count("</style>") == 1
    assert len(page.encode()) < 2_000_000


def test_the_counts_at_the_top_are_the_findings_listed(page, troubled):
    found = [finding for item in troubled.parts for finding in item.findings]
    found += troubled.derived.findings
    stops = sum(finding.severity == "stop" for finding in found)
    cautions = sum(finding.severity == "caution" for finding in found)
    of_choice = len(troubled.choice.findings) if troubled.choice else 0
    assert f"{stops} stops, {cautions + of_choice} cautions" in page
    assert page.count("<i>stop</i>") == stops
    assert page.count("<i>caution</i>") == cautions


def test_what_to_do_first_is_short_and_keeps_every_stop(troubled):
    first = troubled.first
    assert [line for line in first if "vanishes" in line or "not fit" in line] == list(first[:2])
    assert sum("closes" in line for line in first) == 1  # of two cautions of one check one
    assert first[-1].startswith("push rod: another way up would be far better")
    assert not any("bridge" in line for line in first)
    assert first[0] == "push rod: a wall of 0.1 mm vanishes. Make it 2 mm thick."
    assert max(map(len, first)) < 240


def test_a_long_step_is_cut_at_its_first_semicolon(rod):
    long = replace(rod.findings[0], remedy="Make it " + "thick " * 20 + "; or leave it out.")
    assert "leave it out" not in first_step(long)
    short = replace(
        rod.findings[0], remedy="Make it 1.5 mm thick; leave it where it must not hold."
    )
    assert first_step(short).endswith("must not hold.")
    assert list_first((), (), ()) == ()


def test_facets_of_a_stop_are_seen_on_the_large_picture(parts):
    from base64 import b64decode

    large = next(part for part in parts["large"] if part["name"] == "push rod")
    data = b64decode(large["src"].partition(",")[2])
    image = np.array(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)
    assert ((image[..., 0] - image[..., 2]) > 70).any()
