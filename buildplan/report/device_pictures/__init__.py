"""Figures of the device: lid, volts, energy, events, temperatures, sights; one file a figure."""
