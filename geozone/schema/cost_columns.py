"""What switches cost today against the plan: columns of the audit."""

from __future__ import annotations

from .column import Column

_A = "audit"
_TODAY = "if the first explanation holds"

COSTS = (
    Column("plan_dark_h", "Unlit with the plan", "Hours of the year unlit from dusk to dawn with the plan's setting.", "number", "h", 1, _A),
    Column("kwh", "Energy today",
           f"Electricity of the year as the site's programme runs today, {_TODAY} or the reading agrees; empty without a load.", "number", "kWh", 0, _A),
    Column("plan_kwh", "Energy with the plan", "The same with the plan's setting.", "number", "kWh", 0, _A),
    Column("cost", "Cost today",
           f"Cost of that energy by the job's tariff and in its currency, {_TODAY} or the reading agrees; empty without a price.", "number", "", 2, _A),
    Column("plan_cost", "Cost with the plan", "The same with the plan's setting.", "number", "", 2, _A),
)
