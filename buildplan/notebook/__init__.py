"""What a notebook calls: open the demo, show parts, hours and feedstocks as tables and pictures."""

from buildplan.notebook.show import (
    open_demo,
    show_feedstocks,
    show_fit,
    show_hours,
    show_part,
    show_parts,
)

__all__ = ["open_demo", "show_feedstocks", "show_fit", "show_hours", "show_part", "show_parts"]
