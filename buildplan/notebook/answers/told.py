"""What several answers share: findings of the device in a list, verdicts in words."""

from collections.abc import Iterable, Sequence

from buildplan.device.chain.model import DeviceStudy
from buildplan.findings import Finding, Severity, worst
from buildplan.report.device_section import finding_row


def findings_list(findings: Sequence[Finding], study: DeviceStudy | None = None) -> str:
    """Each finding with its reason and what to do; empty where there is none."""
    from markupsafe import escape

    from buildplan.notebook.answers.answer import sign

    names = [] if study is None else [*(one.part_name for one in study.placed)]
    names += [] if study is None else [one.name for one in study.drives]
    items = [
        f'<li><span></span><div><p class="what">{sign(row["severity"])} {escape(row["what"])}'
        f"</p><p>{escape(row['why'])}</p>"
        f'<p class="do">{escape(row["remedy"])}</p>'
        f'<p class="rule">{escape(row["source"])}</p></div></li>'
        for row in (finding_row(finding, names) for finding in findings)
    ]
    return f'<ul class="findings plainlist">{"".join(items)}</ul>' if items else ""


def sign_of(findings: Iterable[Finding]) -> str:
    """The sign of an answer: the gravest stop or caution, else a tick."""
    found: Severity | None = worst(tuple(findings))
    return found if found in ("stop", "caution") else "ok"
