"""Answers: what a damper is worth, which differential to set, which rule to choose."""
