"""Survival, stocking and need from counted plots: pure numpy and scipy, no database.

Read in this order: `rows` (what comes out), `table` (what goes in), `round_estimates` (the one function
that the command line and the recompute service both call), then `posterior`, `strata` and `intervals`
(how), `outcome`, `stocking`, `performance`, `replacement`, `season` (what follows from the figures).
"""

CODE_VERSION = "3"  # raise it with any change to a figure; stored rows of another version are computed again
