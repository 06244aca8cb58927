"""What is wrong with a file of counts, in words: the codes of the reader, with what to do about each."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from monitoring.estimators import count_columns as columns
from monitoring.estimators.count_columns import Problem

WORDS = {
    columns.UNREADABLE: gettext_noop("The file is not readable as text; save it as CSV in UTF-8."),
    columns.EMPTY_FILE: gettext_noop(
        "The file holds no counts; give a heading line, then one line per count."
    ),
    columns.COLUMN_MISSING: gettext_noop('The column "%(column)s" is missing; add it to the heading line.'),
    columns.COLUMN_TWICE: gettext_noop('The column "%(column)s" stands twice; keep one of them.'),
    columns.COLUMN_IGNORED: gettext_noop('The column "%(column)s" is not known and was left out.'),
    columns.TOO_MANY_CELLS: gettext_noop("More cells than headings; put names with commas in quotes."),
    columns.NAME_MISSING: gettext_noop(
        '"%(column)s" is empty; write its name (an empty species is only for a visited empty plot).'
    ),
    columns.NOT_A_COUNT: gettext_noop('"%(column)s" is "%(value)s"; write a whole number, 0 or more.'),
    columns.NOT_A_WEIGHT: gettext_noop('"%(column)s" is "%(value)s"; write a number above 0 or nothing.'),
    columns.NOT_A_DATE: gettext_noop('"%(column)s" is "%(value)s"; write the day as YYYY-MM-DD.'),
    columns.NOT_A_UNIT: gettext_noop('"%(column)s" is "%(value)s"; write tree, seed_spot or seed.'),
    columns.NOT_YES_OR_NO: gettext_noop('"%(column)s" is "%(value)s"; write yes or no.'),
    columns.LINE_TWICE: gettext_noop(
        'Plot "%(value)s" already has a line for this species, cohort, lot and unit; keep one '
        "(one file is one round)."
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


def problem_words(problem: Problem) -> str:
    """One problem as a sentence that names the line and the column."""
    words = _(WORDS[problem.code]) % {"column": problem.column, "value": problem.value}
    if not problem.line:
        return words
    return _("Line %(line)s: %(words)s") % {"line": problem.line, "words": words}
