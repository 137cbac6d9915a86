"""The one place that says which version this is."""

from __future__ import annotations

__version__ = "0.1.0"
"""The version of the package; the build reads it here."""
