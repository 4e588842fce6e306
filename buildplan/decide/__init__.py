"""The choice: what a print risks, home or sent out, the calendar, and what must be true before."""
