"""Why a way up is good, in words, and the note when another one is far better than as placed."""

from collections.abc import Sequence

import numpy as np

from buildplan.checks.orientation.candidates import FlatFaces
from buildplan.checks.orientation.model import Orientation
from buildplan.findings import Finding, Place
from buildplan.kernels.orientations import FLAT_COS

TOUCH_MM2 = 0.8
"""Less flat contact than that is an edge or a point."""

LITTLE_G = 0.3
"""Support below this is next to none."""

NO_SUPPORT_MM2 = 1.0
"""And none where it would carry less than this."""

INSIDE_G = 3.0
"""Where it stands is worth a word from here on."""

WORTH_FRAC = 0.8
"""A note is given where the best way up costs less than this share of the one as placed."""

WORTH_COST = 1.0
"""And where it saves at least so much money, by the weights."""

SOURCE = "ours: hours, support, own time and chance to fail in money (OrientationWeights)"


def contact_words(way: Orientation, faces: FlatFaces, needed_mm2: float, held_mm2: float) -> str:
    """What a part lies on."""
    if way.contact_mm2 < 0.9 * needed_mm2 <= held_mm2:
        flat = f" and {way.contact_mm2:.0f} mm2 of flat face" if way.contact_mm2 >= 1.0 else ""
        return f"rests on its support{flat}"
    if needed_mm2 == 0.0 and way.contact_mm2 < TOUCH_MM2:
        return "hangs on its supports" if way.supported_mm2 > 0.0 else "starts from a point or edge"
    if way.contact_mm2 < TOUCH_MM2:
        return "touches the platform with an edge or a point only"
    if way.contact_mm2 < 0.9 * needed_mm2:
        return f"stands on only {way.contact_mm2:.0f} mm2"
    down = faces.normals @ -np.asarray(way.up) > FLAT_COS
    largest = faces.areas_mm2 > 0.999 * faces.areas_mm2.max(initial=0.0)
    if (down & largest).any() and way.contact_mm2 > 0.5 * faces.areas_mm2[0]:
        return f"lies on its largest flat face ({way.contact_mm2:.0f} mm2)"
    return f"lies on {way.contact_mm2:.0f} mm2 of flat face"


def reason_for(
    way: Orientation,
    as_placed: Orientation,
    faces: FlatFaces,
    *,
    needed_mm2: float,
    held_mm2: float,
) -> str:
    """The reason in words, against the part as placed.

    For example "lies on its largest flat face (900 mm2): no support, 2.1 h less, but the layers
    would split hinge left".
    """
    stands = contact_words(way, faces, needed_mm2, held_mm2)
    if way.turn_deg < 0.05:
        stands = f"as placed: {stands}"
        good, bad = _alone(way)
    else:
        good, bad = _against(way, as_placed)
    text = stands
    if good:
        text += (", " if way.turn_deg < 0.05 else ": ") + ", ".join(good)
    if bad:
        text += ", but " + _listed(bad)
    return text


def _alone(way: Orientation) -> tuple[list[str], list[str]]:
    good, bad = [], []
    if way.support_mass_g < LITTLE_G:
        good.append(_little(way))
    else:
        bad.append(f"it takes {_grams(way.support_mass_g)} of support")
    if way.on_part_frac > 0.3 and way.support_mass_g >= INSIDE_G:
        bad.append(_on_part(way))
    if way.weak:
        bad.append(_split(way.weak))
    if not way.fits:
        bad.append("it does not fit the printer so")
    return good, bad


def _against(way: Orientation, other: Orientation) -> tuple[list[str], list[str]]:
    good: list[str] = []
    bad: list[str] = []
    _weigh_support(way, other, good, bad)
    hours = way.time_h - other.time_h
    if abs(hours) >= max(0.1, 0.03 * other.time_h):
        _sort(hours, f"{abs(hours):.1f} h", good, bad)
    _weigh_height(way.height_mm / other.height_mm - 1.0, good, bad)
    mended = [name for name in other.weak if name not in way.weak]
    if mended:
        good.append(f"the layers run along {_names(mended)}")
    if way.on_part_frac > 0.3 and way.support_mass_g >= INSIDE_G:
        bad.append(_on_part(way))
    new = [name for name in way.weak if name not in other.weak]
    kept = [name for name in way.weak if name in other.weak]
    if new:
        bad.append(_split(new))
    elif kept:
        bad.append(_split(kept) + " as before")
    return good, bad


def _weigh_support(way: Orientation, other: Orientation, good: list[str], bad: list[str]) -> None:
    more = way.support_mass_g - other.support_mass_g
    if way.support_mass_g < LITTLE_G:
        good.append(_little(way))
    elif abs(more) >= max(LITTLE_G, 0.1 * other.support_mass_g):
        _sort(more, f"{_grams(abs(more))} {{}} support", good, bad)
    else:
        bad.append(f"as much support ({_grams(way.support_mass_g)})")


def _little(way: Orientation) -> str:
    return "no support" if way.supported_mm2 < NO_SUPPORT_MM2 else "next to no support"


def _weigh_height(more_frac: float, good: list[str], bad: list[str]) -> None:
    if more_frac >= 1.0:
        bad.append(f"{more_frac + 1.0:.1f} times the height")
    elif abs(more_frac) >= 0.1:
        _sort(more_frac, f"{abs(more_frac) * 100.0:.0f} % {{}} height", good, bad)


def _sort(more: float, amount: str, good: list[str], bad: list[str]) -> None:
    """Put an amount to what speaks for or against."""
    word = "more" if more > 0 else "less"
    text = amount.format(word) if "{}" in amount else f"{amount} {word}"
    (bad if more > 0 else good).append(text)


def _listed(items: Sequence[str]) -> str:
    """Items of a sentence, "and" before the last."""
    return " and ".join([*([", ".join(items[:-1])] if items[1:] else []), items[-1]])


def _grams(mass_g: float) -> str:
    return f"{mass_g:.1f} g" if mass_g < 10 else f"{mass_g:.0f} g"


def _on_part(way: Orientation) -> str:
    return f"{way.on_part_frac * 100.0:.0f} % of the support stands on the part"


def _names(names: Sequence[str]) -> str:
    """Names in a sentence; more than two are counted."""
    if len(names) > 2:
        return f"{names[0]} and {len(names) - 1} more"
    return " and ".join(names)


def _split(names: Sequence[str]) -> str:
    return f"the layers would split {_names(names)}"


def note_for(best: Orientation, as_placed: Orientation, part: str, printer: str) -> Finding | None:
    """A note where the best way up is far better than as placed, else None."""
    saved_h = as_placed.time_h - best.time_h
    saved_g = as_placed.support_mass_g - best.support_mass_g
    mended = [name for name in as_placed.weak if name not in best.weak]
    limit = min(WORTH_FRAC * as_placed.total_cost, as_placed.total_cost - WORTH_COST)
    if as_placed.fits and (best.turn_deg < 0.05 or best.total_cost > limit):
        return None
    if as_placed.fits:
        saved = _saved(saved_h, saved_g, mended)
        if best.loose_cost + WORTH_COST < as_placed.loose_cost:
            saved.append("it would hold on the platform")
        what = f"another way up would be far better: {', '.join(saved)}"
    else:
        what = "as placed it does not fit, another way up does"
    return Finding(
        check="orientation",
        severity="note",
        what=what,
        where=Place(text=f"{part} on {printer}"),
        measured=f"as placed: {_numbers(as_placed)}",
        required=f"best way found: {_numbers(best)}",
        remedy=(
            f"Print it with {_side(best.up)} up, turned by "
            f"{best.turn_deg:.0f} degrees, and keep that as its orientation in the build file; "
            f"so it {best.reason}."
        ),
        source=SOURCE,
    )


def _saved(hours: float, grams: float, mended: Sequence[str]) -> list[str]:
    saved = []
    if abs(hours) >= 0.1:
        saved.append(f"{abs(hours):.1f} h {'less' if hours > 0 else 'more'}")
    if abs(grams) >= LITTLE_G:
        saved.append(f"{_grams(abs(grams))} {'less' if grams > 0 else 'more'} support")
    if mended:
        saved.append(f"the layers would no longer split {_names(mended)}")
    return saved


def _side(up: tuple[float, float, float]) -> str:
    """The side of a part that points up: by its axis where it is one."""
    for axis, along in zip("xyz", up, strict=True):
        if abs(along) > 0.99999:
            return f"its {'+' if along > 0 else '-'}{axis} side"
    return f"its direction ({up[0]:.2f}, {up[1]:.2f}, {up[2]:.2f})"


def _numbers(way: Orientation) -> str:
    return (
        f"{way.time_h:.1f} h, {_grams(way.support_mass_g)} of support, "
        f"{way.contact_mm2:.0f} mm2 on the platform, {way.height_mm:.0f} mm tall"
    )
