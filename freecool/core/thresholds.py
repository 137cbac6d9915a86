"""Freecool's own scales: thresholds that no standard gives, stated with every answer that rests on them."""

from __future__ import annotations

WATCH_HOURS = 50.0
"""Hours a year above 60 % relative humidity (US EPA's advice) that the damper adds, from which humidity is to be
watched [h]; our own."""

HIGH_HOURS = 250.0
"""The same, from which the humidity risk is high [h]; our own."""
