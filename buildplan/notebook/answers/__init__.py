"""Questions of the guided notebooks: one call, one answer with its figure or table."""

from buildplan.notebook.answers.after import end_print, start_print
from buildplan.notebook.answers.answer import Answer
from buildplan.notebook.answers.budget import keep_states, show_bill, show_budget, show_orders
from buildplan.notebook.answers.calendar import show_calendar, show_chances, write_files
from buildplan.notebook.answers.coupons import show_coupons, write_coupons
from buildplan.notebook.answers.first_power import show_first_power, show_heat_soak
from buildplan.notebook.answers.getting import (
    keep_way,
    look_at_pieces,
    show_bad_day,
    show_changes,
    show_choice,
    show_pieces,
)
from buildplan.notebook.answers.heat import (
    show_cooling,
    show_device_cautions,
    show_limits,
    show_warmest_day,
)
from buildplan.notebook.answers.logged import show_learned, show_log
from buildplan.notebook.answers.measures import show_measures
from buildplan.notebook.answers.memory import (
    open_build,
    part_of,
    pieces_of,
    plan_of,
    show_build,
    study_of,
)
from buildplan.notebook.answers.moving import keep_drive, show_drives, show_lid, show_torque
from buildplan.notebook.answers.power import (
    show_day,
    show_reboots,
    show_supply,
    show_volts,
    show_wires,
)
from buildplan.notebook.answers.prints import (
    keep_way_up,
    look_at_findings,
    show_findings,
    show_prints,
    show_ways_up,
)
from buildplan.notebook.answers.readiness import keep_result, show_claims, show_looks, show_verdict
from buildplan.notebook.answers.tests_panel import try_claims
from buildplan.notebook.answers.together import look_at_device, show_assembly, show_gaps

__all__ = [
    "Answer",
    "end_print",
    "keep_drive",
    "keep_result",
    "keep_states",
    "keep_way",
    "keep_way_up",
    "look_at_device",
    "look_at_findings",
    "look_at_pieces",
    "open_build",
    "part_of",
    "pieces_of",
    "plan_of",
    "show_assembly",
    "show_bad_day",
    "show_bill",
    "show_budget",
    "show_build",
    "show_calendar",
    "show_chances",
    "show_changes",
    "show_choice",
    "show_claims",
    "show_cooling",
    "show_coupons",
    "show_day",
    "show_device_cautions",
    "show_drives",
    "show_findings",
    "show_first_power",
    "show_gaps",
    "show_heat_soak",
    "show_learned",
    "show_lid",
    "show_limits",
    "show_log",
    "show_looks",
    "show_measures",
    "show_orders",
    "show_pieces",
    "show_prints",
    "show_reboots",
    "show_supply",
    "show_torque",
    "show_verdict",
    "show_volts",
    "show_warmest_day",
    "show_ways_up",
    "show_wires",
    "start_print",
    "study_of",
    "try_claims",
    "write_coupons",
    "write_files",
]
