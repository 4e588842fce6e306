"""Build -> Plan: the only package that runs every stage. Read this first.

part file -> read_part -> check_fit (each printer) -> estimate_print (each printer that fits)
          -> the cheapest printer that fits -> inspect_part (will it print), rank_orientations,
             compare_feedstocks                                                       part.py
print log -> factors on hours and grams, odds of failing                             learned.py
all parts -> choose_cycles (what shares a platform)                                   cycles.py
          -> split_part where a part fits nothing or takes too long, coupons          pieces.py
          -> hours, grams and money of a part, whole or in pieces                    takes.py
device    -> drive, volts, supply, heat, gaps, views: each answer feeds the next      device.py
          -> bill lines                                                               lines.py
          -> what to do first                                                         first.py
          -> totals and verdict                                                       run.py
a plan    -> a revision to hold another against, its short mark                  revision.py
options   -> each part at home, in pieces or sent out, all together                choice.py
          -> the same played through the calendar                                 refine.py
          -> kept in the build file, counted by the next plan                  take.py, sent.py
a device  -> its first power and heat soak against what was computed             accept.py
one part  -> its best ways up, estimated in full                                      ways.py
many      -> every part on every printer, of every feedstock, many ways up           study.py
"""

from buildplan.plan.accept import accept_amps, accept_soak
from buildplan.plan.device import study_build_device
from buildplan.plan.first import task_of
from buildplan.plan.learned import (
    Experience,
    log_path,
    promise_print,
    read_experience,
    table_path,
)
from buildplan.plan.model import (
    CouponPlan,
    PartPlan,
    Plan,
    PrinterOption,
    SplitAnswer,
    chosen_option,
)
from buildplan.plan.part import plan_part
from buildplan.plan.refine import PlayedChoice, refine_choice
from buildplan.plan.revision import mark_of, revision_of
from buildplan.plan.run import make_plan
from buildplan.plan.study import StudyPart, StudyRow, study_build, study_parts
from buildplan.plan.take import take_choice
from buildplan.plan.ways import ways_up

__all__ = [
    "CouponPlan",
    "Experience",
    "PartPlan",
    "Plan",
    "PlayedChoice",
    "PrinterOption",
    "SplitAnswer",
    "StudyPart",
    "StudyRow",
    "accept_amps",
    "accept_soak",
    "chosen_option",
    "log_path",
    "make_plan",
    "mark_of",
    "promise_print",
    "plan_part",
    "read_experience",
    "refine_choice",
    "revision_of",
    "study_build",
    "study_build_device",
    "study_parts",
    "table_path",
    "take_choice",
    "task_of",
    "ways_up",
]
