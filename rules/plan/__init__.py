"""What to do before the charger is switched on."""

from rules.plan.input import WARM_ROOM, BankPlan, Charger, Figure, Found, Plan, PlanInput
from rules.plan.make import plan
from rules.plan.words import cautions, checklist

__all__ = ["WARM_ROOM", "BankPlan", "Charger", "Figure", "Found", "Plan", "PlanInput", "cautions", "checklist", "plan"]
