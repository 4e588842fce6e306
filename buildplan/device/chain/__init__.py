"""The chain: travel, load, drive, volts at the servo, supply, heat, gaps and views, in one run.

``study_device`` in ``run`` runs all of it, on tables read by ``shape`` and parts put in place by
``placed``. ``motion`` gives poses over the travel, ``gaps`` sweeps them, ``servo_volts`` finds the
volts at which servo and supply agree, ``agree`` holds the tables against each other, ``needs`` is
the one table of what the device needs, and ``model`` what the study holds.
"""
