"""Plans and parts as plain objects for JSON. Keys are stable; schema_version counts changes.

Units stand last in a key (_mm, _mm2, _mm3, _g, _h, _d, _c, _deg, _frac, _cost in the build's
currency); points and boxes are on the part as it is placed for printing, except where the key says
otherwise. No key holds an array of samples. null stands for "there is none".

plan: schema_version, name, file, sha256, revision, currency, verdict, first, totals, parts, cycles,
      splits, coupons, bill, orders, budget, device, calendar, ready
part: facts of the mesh (name .. health), process, printer, feedstock, recipe, estimate, fit,
      findings, checks, ways_up; in a plan also quantity, reason, options

checks (schema 2): walls (limit, areas, least and low thickness, places), beads, gaps, holes (drawn
    and printed diameter), pins, overhangs (regions, support volume, supported area), stability,
    warping, trapped (islands, pockets, drain holes)                                    checks.py
ways_up (schema 2): directions weighed, as_placed, best: up to five ways with their matrix, hours,
    supports, costs and reason                                                          checks.py
device (schema 3): needs, drives, servo, power, heat, gaps, reached, assembly, views, cautions,
    findings; null where the build file says nothing about a device                     device.py
headline, counts, date_set_by (schema 3): the verdict, findings counted, what sets the date
calendar, ready (schema 3): days with chances, what sets the date (sets_the_date: hours sooner
    without each thing), bars, orders; claims before a long print
                                                                                     decisions.py
choice (schema 3): options, totals, reasons, front, quotes                              choice.py
orders, budget (schema 3): the bill by supplier, and its spread                           bill.py
cycles (schema 2): for each printer its way, reason, cycles (placings, hours, grams, own time saved,
    at_stake), left_out, findings                                                       cycles.py
"""

from buildplan.report.as_json.bill import line_object
from buildplan.report.as_json.changes import changes_object
from buildplan.report.as_json.choice import played_object
from buildplan.report.as_json.device import device_object
from buildplan.report.as_json.objects import (
    SCHEMA_VERSION,
    estimate_object,
    fit_object,
    part_object,
    plan_object,
)
from buildplan.report.as_json.schema import plan_schema
from buildplan.report.as_json.study import study_object
from buildplan.report.as_json.upgrade import read_plan_json
from buildplan.report.as_json.values import dump, finding_object

__all__ = [
    "SCHEMA_VERSION",
    "changes_object",
    "device_object",
    "dump",
    "estimate_object",
    "finding_object",
    "fit_object",
    "line_object",
    "part_object",
    "plan_object",
    "plan_schema",
    "played_object",
    "read_plan_json",
    "study_object",
]
