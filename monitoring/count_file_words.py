"""What is wrong with a file of counts, in words: the codes of the reader, with what to do about each."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from monitoring.estimators import count_columns as columns
from monitoring.estimators.count_columns import Problem

WORDS = {
    columns.UNREADABLE: gettext_noop("The file is not readable as text; save it as CSV in UTF-8."),
    columns.BAD_QUOTES: gettext_noop(
        "A quotation mark is not closed, or stands inside a cell; remove it, or close it at the end of the cell."
    ),
    columns.EMPTY_FILE: gettext_noop(
        "The file holds no counts; give a heading line, then one line per count."
    ),
    columns.COLUMN_MISSING: gettext_noop('The column "%(column)s" is missing; add it to the heading line.'),
    columns.COLUMN_TWICE: gettext_noop('The column "%(column)s" stands twice; keep one of them.'),
    columns.COLUMN_IGNORED: gettext_noop('The column "%(column)s" is not known and was left out.'),
    columns.TOO_MANY_CELLS: gettext_noop(
        'More cells than headings: cell %(column)s holds "%(value)s". Put names with commas in quotes.'
    ),
    columns.NAME_MISSING: gettext_noop(
        '"%(column)s" is empty; write its name (an empty species is only for a visited empty plot).'
    ),
    columns.NOT_A_COUNT: gettext_noop('"%(column)s" is "%(value)s"; write a whole number, 0 or more.'),
    columns.NOT_ABOVE_ZERO: gettext_noop('"%(column)s" is "%(value)s"; write a number above 0 or nothing.'),
    columns.NOT_A_DATE: gettext_noop('"%(column)s" is "%(value)s"; write the day as YYYY-MM-DD.'),
    columns.OBSERVED_BEFORE_PLANTED: gettext_noop(
        "The day of the count lies before the day of planting; correct one of them."
    ),
    columns.NOT_A_UNIT: gettext_noop('"%(column)s" is "%(value)s"; write tree, seed_spot or seed.'),
    columns.NOT_A_BASELINE: gettext_noop(
        '"%(column)s" is "%(value)s"; write at_planting, later, visible_spots or none.'
    ),
    columns.NOT_A_STATUS: gettext_noop('"%(column)s" is "%(value)s"; write counted, destroyed or missing.'),
    columns.NOT_YES_OR_NO: gettext_noop('"%(column)s" is "%(value)s"; write yes or no.'),
    columns.LINE_TWICE: gettext_noop(
        'Plot "%(value)s" already has a line for this species, cohort, lot, unit and baseline in the same round; '
        "keep one, or tell rounds apart in a column round or observed_on."
    ),
    columns.NO_DAY_FOR_ROUND: gettext_noop(
        '"%(column)s" is empty; rounds are told apart by their days, so write the day, or add a column round.'
    ),
    columns.ROUNDS_BY_DAY: gettext_noop("Rounds told apart by the days of the counts: %(value)s."),
    columns.ALIVE_WHERE_DESTROYED: gettext_noop(
        '"%(column)s" is %(value)s in a destroyed plot; write 0, or counted as its status.'
    ),
    columns.COUNTED_WHERE_MISSING: gettext_noop(
        "The plot is missing and yet has counts; take them out, or write counted as its status."
    ),
    columns.MORE_UNCERTAIN_THAN_ALIVE: gettext_noop(
        '"%(column)s" is %(value)s, more than are alive; write how many of the living may be natural.'
    ),
    columns.AREA_UNKNOWN: gettext_noop("Plots without plot_area_m2 are left out of stocking: %(value)s."),
    columns.PLOTS_MISSING: gettext_noop(
        "Plots that nobody could count: %(value)s. The figures rest on the others."
    ),
    columns.STOPPED_AT_A_CAP: gettext_noop(
        "Natural trees counted up to a cap (20+) enter with the cap, so there may be more."
    ),
    columns.DIFFERS_IN_BLOCK: gettext_noop(
        '"%(column)s" is "%(value)s" here and different earlier in the same block; make them the same.'
    ),
    columns.DIFFERS_IN_PLOT: gettext_noop(
        '"%(column)s" is "%(value)s" here and different earlier in the same plot; make them the same.'
    ),
    columns.FEWER_THAN_VISITED: gettext_noop(
        '"block_plots" is %(value)s, fewer than the plots visited; give the plots the whole block could hold.'
    ),
    columns.FEWER_THAN_IN_PLOTS: gettext_noop(
        '"block_planted" is %(value)s, fewer than the trees planted in the plots of the block; check it, the '
        "block counts for too little."
    ),
    columns.MORE_ALIVE_THAN_PLANTED: gettext_noop(
        "%(value)s alive is more than the trees there to be alive; counted as all of them and flagged."
    ),
    columns.DOES_NOT_ADD_UP: gettext_noop("The counts do not add up to planted; the line is flagged."),
    columns.NOT_ALIVE_TAKEN_AS_DEAD: gettext_noop(
        'There is no column for dead or not found; whatever is not alive is taken as dead.'
    ),
}  # fmt: skip


COLUMNS = (
    ("block, plot", gettext_noop("the planting block (a stratum) and the survival plot in it")),
    ("species", gettext_noop("its name; empty for a visited plot that holds nothing")),
    ("planted, alive", gettext_noop("trees planted in the plot, and living when counted")),
    ("dead (or dead_stem, empty_spot)", gettext_noop("seen dead; a dead stem, or an empty planting spot")),
    ("not_found", gettext_noop("spot not located; left empty, what no other count explains")),
    ("not_assessed, removed", gettext_noop("not looked at; taken out alive on purpose: both leave the survival")),
    ("origin_uncertain", gettext_noop("of those alive, how many may be natural seedlings")),
    ("natural", gettext_noop("natural trees of acceptable size; 20+ where counting stopped")),
    ("round, observed_on (or date)", gettext_noop(
        "name of the round, day of the count as YYYY-MM-DD; without round, a round begins on the day on which a "
        "line is counted again"
    )),
    ("planted_on, planting_season", gettext_noop("for ages; mixed seasons have no outcome")),
    ("unit", gettext_noop("tree, seed_spot or seed")),
    ("baseline", gettext_noop("at_planting, later, visible_spots (rebuilt), or none (stocking only)")),
    ("status", gettext_noop("counted, destroyed or missing")),
    ("census", gettext_noop("yes where the whole block was counted")),
    ("flagged", gettext_noop("yes where a count waits for a decision")),
    ("plot_weight", gettext_noop("where plots of a block stand for unequal shares of it")),
    ("plot_area_m2", gettext_noop("horizontal area of the plot, for stocking")),
    ("block_planted (or block_planted_spots)", gettext_noop("planted in the whole block: the weight of blocks")),
    ("block_plots", gettext_noop("plots the block could hold: correction for a small block, or its weight")),
    ("net_area_ha, target_per_ha", gettext_noop("of the block, for stocking")),
    ("site, project, cohort, lot, stock_type, nursery", gettext_noop("figures are given for each")),
)  # fmt: skip


def column_help() -> str:
    """The columns a file may hold, one a line."""
    lines = [f"  {names}: {_(words)}" for names, words in COLUMNS]
    return "\n".join(
        [_("Columns, in any order; block, plot, species, planted and alive must be there:"), *lines]
    )


def problem_words(problem: Problem) -> str:
    """One problem as a sentence that names the line and the column."""
    words = _(WORDS[problem.code]) % {"column": problem.column, "value": problem.value}
    if not problem.line:
        return words
    return _("Line %(line)s: %(words)s") % {"line": problem.line, "words": words}
