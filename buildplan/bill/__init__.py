"""The bill of materials: lines derived from the plan and from the build file."""

from buildplan.bill.lines import BillLine, Wanted, bill_line, total_cost

__all__ = ["BillLine", "Wanted", "bill_line", "total_cost"]
