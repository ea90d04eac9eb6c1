"""What to do before the charger is switched on."""

from rules.plan.input import BankPlan, Charger, Figure, Found, Plan, PlanInput
from rules.plan.make import plan
from rules.plan.words import CAUTIONS, CHECKLIST

__all__ = ["CAUTIONS", "CHECKLIST", "BankPlan", "Charger", "Figure", "Found", "Plan", "PlanInput", "plan"]
