"""The codes of the coverage study in words: methods, kinds of made-up forest, rules of looking."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from monitoring import result_words
from monitoring.estimators import rows

METHODS = {
    rows.POSTERIOR: gettext_noop("beta-binomial posterior, the headline"),
    rows.RATIO_LOGIT_T: gettext_noop("ratio, logit-t limits, stored beside it"),
    rows.STRATIFIED_LOGIT_T: gettext_noop("stratified ratio, logit-t limits, the headline"),
    "wilson_trees_pooled": gettext_noop("trees pooled as if independent, for contrast"),
}
SHORT = {
    rows.POSTERIOR: gettext_noop("headline"),
    rows.RATIO_LOGIT_T: gettext_noop("beside it"),
    "wilson_trees_pooled": gettext_noop("trees pooled"),
}
FORMS = {
    "main": gettext_noop("8 to 30 plots of 15 to 25 trees"),
    "few": gettext_noop("5 or 6 plots"),
    "wide": gettext_noop("plots of 5 to 60 trees"),
    "sparse": gettext_noop("2 to 6 trees a plot, as of one species among several"),
    "logit_normal": gettext_noop("plots that differ by another law (normal on the logit scale)"),
    "informative": gettext_noop("plots with more survivors hold more counted trees"),
    "wiped_out": gettext_noop("4 in 100 plots wiped out"),
    "heavy": gettext_noop("several blocks, the most planted ones the most patchy"),
    "common": gettext_noop("blocks equally patchy"),
    "uneven": gettext_noop("every other block four times as patchy"),
}
RULES = {
    "one": gettext_noop("one look"),
    "two": gettext_noop("a second look where the first settled nothing, level not split"),
    "two_split": gettext_noop("the same, with the level split between the looks"),
    "projects": gettext_noop("several blocks together, one look"),
}


def method_words(code: str) -> str:
    """The name of a method of the study."""
    return result_words.said(METHODS, code)


def short_method_words(code: str) -> str:
    """The name of a method in a picture."""
    return result_words.said(SHORT, code)


def form_words(code: str) -> str:
    """What a made-up forest is like."""
    return result_words.said(FORMS, code)


def rule_words(code: str) -> str:
    """A rule of looking."""
    return _(RULES[code])
