"""A hinged lid and its drive: torque, force, locks, time, pinch, the best push rod."""
