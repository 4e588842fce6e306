"""Weeks, prints and steps for the tests of the calendar: a seedling house on two printers."""

from datetime import date

import numpy as np

from buildplan.decide.calendar import Attended, Job, Step, Times, make_windows
from buildplan.decide.calendar.windows import windows_from
from buildplan.findings import Spread

WORK_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri")
PRINTERS = ("north", "south")
TIMES = (
    Times(days=WORK_DAYS, start="17:00", end="23:00"),
    Times(days=("Sat", "Sun"), start="08:00", end="23:00"),
)


def evenings(days=366, first_day="2031-03-17", time_zone="", off=()):
    attended = Attended(first_day=first_day, time_zone=time_zone, off=off, times=TIMES)
    return make_windows(attended, days=days)


def always(days=400):
    edges = 24.0 * np.arange(1, days + 1)
    return windows_from([(0.0, 24.0 * days)], first_day=date(2031, 3, 17), day_end_h=edges)


def job(name, hours, **more):
    return Job(**({"name": name, "print_h": hours, "printers": PRINTERS} | more))


def sprout_jobs():
    usual = {"log_sd_frac": 0.06, "start_fail_frac": 0.03, "start_loss_h": 0.4}
    north = usual | {"printers": ("north",)}
    return (
        job("base shell", 20.5, hazard_frac_h=0.0115, cure_h=2.0, set_up_h=0.33, **north),
        job("roof frame", 12.0, hazard_frac_h=0.0115, cure_h=1.0, removal_h=0.2, **north),
        job("roof vent", 4.2, hazard_frac_h=0.0115, **usual),
        job("hinges", 1.8, **usual),
        job("servo bracket", 1.3, **usual),
        job("bay", 6.8, hazard_frac_h=0.006, **usual),
        job("bay cover", 2.1, hazard_frac_h=0.006, **usual),
        job("camera arm", 3.4, hazard_frac_h=0.006, **usual),
        job("grid", 5.5, hazard_frac_h=0.008, **usual),
        job("small parts", 2.2, **usual),
    )


def at(hour):
    return Spread(low=hour, likely=hour, high=hour)


def sprout_steps():
    return (
        Step(name="servo arrives", arrives=at(60.0)),
        Step(name="bushes arrive", arrives=at(84.0)),
        Step(name="roof", after=("roof frame", "roof vent", "hinges", "bushes arrive"), work_h=1.5),
        Step(name="drive", after=("roof", "servo bracket", "servo arrives"), work_h=1.0),
        Step(name="wiring", after=("bay", "bay cover", "camera arm"), work_h=2.5),
        Step(
            name="all", after=("drive", "wiring", "base shell", "grid", "small parts"), work_h=2.0
        ),
        Step(name="trial", after=("all",), work_h=3.0),
    )


def sprout():
    return sprout_jobs(), sprout_steps(), evenings(), PRINTERS, tuple(range(10))
