"""Payload bytes in, readings in canonical units out: one module per style, and the table that routes topics to them."""

from bridge.intake.mapping import Decoded, Mapping, Rejected
from bridge.intake.routes import Routes

__all__ = ["Decoded", "Mapping", "Rejected", "Routes"]
