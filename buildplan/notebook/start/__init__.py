"""First questions of the guided notebooks: does all work, which build is it, where do files go."""

from buildplan.notebook.start.choose import choose_build
from buildplan.notebook.start.computer import check_computer
from buildplan.notebook.start.folders import show_folder
from buildplan.notebook.start.page import check_page

__all__ = ["check_computer", "check_page", "choose_build", "show_folder"]
