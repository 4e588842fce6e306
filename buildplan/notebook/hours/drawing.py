"""The answer of the hours panel as HTML: three numbers, what changed, where the hours go."""

from dataclasses import dataclass
from html import escape

import numpy as np

from buildplan.findings import SEVERITIES
from buildplan.process.estimate import PrintEstimate
from buildplan.report import numbers, style

BINS = 240
"""Columns of the layer figure; each shows the longest layer that falls into it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursAnswer:
    """What the panel shows.

    Attributes:
        estimate: With what the print log taught.
        basis: Whose prints the hours rest on.
        settings: Label and value of every input, in words.
    """

    estimate: PrintEstimate
    currency: str
    basis: str
    settings: tuple[tuple[str, str], ...]


def draw_hours(now: HoursAnswer, before: HoursAnswer | None) -> str:
    """The answer, with what changed since the one before."""
    return (
        f"{_big(now)}{_since(now, before)}"
        f'<div class="two"><div>{_roles(now)}</div>'
        f"<div>{layer_figure(now.estimate, before.estimate if before else None)}</div></div>"
        f"{_findings(now)}"
    )


def _big(now: HoursAnswer) -> str:
    e, currency = now.estimate, now.currency
    time, mass = e.time_spread_h, e.mass_spread_g
    lines = (
        (
            "printing",
            numbers.num(e.time_h, 1),
            "h",
            f"{numbers.num(time.low, 1)} to {numbers.num(time.high, 1, 'h')}, 8 times in 10",
            now.basis,
        ),
        (
            "feedstock",
            numbers.num(e.mass_g, 0 if e.mass_g >= 9.95 else 1),
            "g",
            f"{numbers.num(mass.low, 0)} to {numbers.num(mass.high, 0, 'g')}, 8 times in 10",
            f"of it supports {numbers.grams(e.support_mass_g)}" if e.support_mass_g else "",
        ),
        (
            "money",
            numbers.num(e.total_cost, 2),
            currency,
            f"feedstock {numbers.num(e.feedstock_cost, 2)}, energy {numbers.num(e.energy_cost, 2)}",
            f"wear {numbers.num(e.machine_cost, 2)}, own time {numbers.num(e.own_time_cost, 2)}",
        ),
    )
    return (
        '<div class="big">'
        + "".join(
            f"<div><span>{name}</span><b>{value}</b> <u>{escape(unit)}</u>"
            f"<em>{escape(first)}</em><em>{escape(second)}</em></div>"
            for name, value, unit, first, second in lines
        )
        + "</div>"
    )


def _since(now: HoursAnswer, before: HoursAnswer | None) -> str:
    """What changed since the last answer, in one sentence."""
    if before is None:
        return '<div class="since quiet">Move a slider: what it changes stands here.</div>'
    old = dict(before.settings)
    moved = [
        f"{label} {old[label]} to {value}"
        for label, value in now.settings
        if label in old and old[label] != value
    ]
    a, b = before.estimate, now.estimate
    deltas = ", ".join(
        (
            f"{_signed(b.time_h - a.time_h, 2)}{numbers.FIXED_SPACE}h",
            f"{_signed(b.mass_g - a.mass_g, 1)}{numbers.FIXED_SPACE}g",
            f"{_signed(b.total_cost - a.total_cost, 2)}{numbers.FIXED_SPACE}{now.currency}",
        )
    )
    what = escape("; ".join(moved) if moved else "nothing moved")
    return f'<div class="since">Since last: {what}: <b>{escape(deltas)}</b></div>'


def _signed(value: float, digits: int) -> str:
    text = numbers.num(value, digits)
    return text if text.startswith(numbers.MINUS) or not text.strip("0.") else f"+{text}"


def _roles(now: HoursAnswer) -> str:
    shares = sorted(now.estimate.by_role, key=lambda s: -s.time_h)
    longest = max((s.time_h for s in shares), default=0.0) or 1.0
    rows = "".join(
        f"<tr><td>{escape(s.role.replace('_', ' '))}</td><td>{_bar(s.time_h / longest)}</td>"
        f'<td class="r">{numbers.num(s.time_h, 2)}</td><td class="r">'
        f"{numbers.num(s.mass_g, 1)}</td></tr>"
        for s in shares
        if s.time_h >= 0.005 or s.mass_g >= 0.05
    )
    return (
        '<table><thead><tr><th>where the hours go</th><th></th><th class="r">h</th>'
        f'<th class="r">g</th></tr></thead><tbody>{rows}</tbody></table>'
    )


def _bar(share: float) -> str:
    return (
        '<svg width="120" height="12" viewBox="0 0 120 12" aria-hidden="true">'
        f'<rect width="{120.0 * share:.1f}" height="12" fill="var(--blue)"/></svg>'
    )


def layer_figure(estimate: PrintEstimate, before: PrintEstimate | None = None) -> str:
    """Minutes of every layer over its height, the answer before as a thin line, as inline SVG."""
    width, height, left, top, bottom = 470.0, 190.0, 34.0, 16.0, 34.0
    shown = [e for e in (estimate, before) if e is not None and len(e.layer_time_s)]
    if not shown:
        return ""
    high_mm = max(float(e.layer_z_mm[-1]) for e in shown)
    most_min = max(float(e.layer_time_s.max()) for e in shown) / 60.0
    roof_min = _round_up(most_min)

    def line(e: PrintEstimate) -> str:
        place = np.minimum(e.layer_z_mm / high_mm * BINS, BINS - 1).astype(np.int64)
        longest = np.zeros(BINS)
        np.maximum.at(longest, place, e.layer_time_s / 60.0)
        filled = np.flatnonzero(longest)
        x = left + (filled + 0.5) / BINS * (width - left)
        y = height - bottom - longest[filled] / roof_min * (height - top - bottom)
        return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))

    base = height - bottom
    ghost = (
        f'<polyline points="{line(before)}" fill="none" stroke="var(--line)" stroke-width="1.5"/>'
        if before is not None and len(before.layer_time_s)
        else ""
    )
    marks = "".join(
        f'<text class="quiet" x="{left + share * (width - left):.0f}" y="{base + 17:.0f}" '
        f'text-anchor="{anchor}">{numbers.num(share * high_mm, 0)}{unit}</text>'
        for share, anchor, unit in (
            (0.0, "start", ""),
            (0.5, "middle", ""),
            (1.0, "end", " mm high"),
        )
    )
    said = "; thin line: before" if ghost else ""
    return (
        f'<div class="head">minutes a layer, over its height{said}</div>'
        f'<svg class="fig" width="{width:.0f}" height="{height:.0f}" role="img" '
        f'viewBox="0 0 {width:.0f} {height:.0f}" aria-label="Minutes of each layer over its height,'
        f' at most {numbers.num(most_min, 1)} minutes">'
        f'<path d="M{left} {base}H{width}M{left} {top}h6" stroke="var(--ink)" fill="none"/>'
        f'<text class="quiet" x="{left - 6}" y="{top + 5}" text-anchor="end">'
        f"{numbers.num(roof_min, 0 if roof_min >= 1 else 1)}</text>"
        f'<text class="quiet" x="{left - 6}" y="{base + 4}" text-anchor="end">0</text>'
        f'{ghost}<polyline points="{line(estimate)}" fill="none" stroke="var(--blue)" '
        f'stroke-width="2" stroke-linejoin="round"/>{marks}</svg>'
    )


def _round_up(value: float) -> float:
    """The next of 1, 2, 5 times a power of ten."""
    if value <= 0.0:
        return 1.0
    power = 10.0 ** np.floor(np.log10(value))
    steps = [step * power for step in (1.0, 2.0, 3.0, 5.0, 8.0, 10.0) if step * power >= value]
    return float(steps[0])


def _findings(now: HoursAnswer) -> str:
    """The gravest findings of the estimate, and how many more there are."""
    ranked = sorted(now.estimate.findings, key=lambda f: SEVERITIES.index(f.severity))
    rows = "".join(
        f'<div class="finding"><span class="s">{style.sign(f.severity)}{f.severity}</span>'
        f"<div><b>{escape(f.what)}.</b> {escape(f.measured)}; {escape(f.required)}. "
        f"Do: {escape(f.remedy)}</div></div>"
        for f in ranked[:3]
    )
    rest = len(ranked) - 3
    more = (
        f'<div class="quiet foot">{numbers.count(rest, "more finding")}: see the part\'s checks.'
        "</div>"
        if rest > 0
        else ""
    )
    return f'<div class="findings">{rows}</div>{more}' if rows else ""
