"""Electricity bills: read without names or accounts, and the part of them that cooling takes."""
