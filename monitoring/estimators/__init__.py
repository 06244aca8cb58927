"""Survival, stocking and need from counted plots: pure numpy and scipy, no database.

Read in this order: `rows` (what comes out), `table` (what goes in), `round_estimates` (the one function
that the command line and the recompute service both call), then `posterior`, `strata` and `intervals` (how).

Before a round: `sample_size`, `plot_chances`, `allocation`, `plot_geometry`, `draw_numbers`, `planar_ground`,
`local_pivotal`, `list_draw`. Of one round: `outcome`, `stocking`, `bounds`, `observers`, `outliers`,
`performance` (with `peers`, `contrast`, `pooling`, `ranking`, `differences`). Of several: `change` (with
`two_rounds`), `curves` (with `history`, `life_table`, `turnbull`, `resampling`). What follows: `replacement`
(with `past_plantings`, `planting_survival`, `carrying`, `living`), `season`. Files: `count_file`.
"""

CODE_VERSION = "3"  # raise it with any change to a figure; stored rows of another version are computed again
