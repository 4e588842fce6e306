"""A panel that shows what layer, beads, infill, speed and prices do to one part."""

from buildplan.notebook.hours.panel import hours_panel, live_hours
from buildplan.notebook.hours.subject import Subject, read_subject

__all__ = ["Subject", "hours_panel", "live_hours", "read_subject"]
