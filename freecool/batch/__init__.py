"""Many sites at once: the same answers in bulk, from a list of sites to a table, and nothing lost on the way."""

from freecool.batch.row import BatchSettings
from freecool.batch.run import Summary, run_batch

__all__ = ["BatchSettings", "Summary", "run_batch"]
