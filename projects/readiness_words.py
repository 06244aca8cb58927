"""Hard stops and agreements in words."""

from django.utils.translation import gettext_lazy as _

from projects.calc import readiness as r
from projects.calc import regeneration as n

TITLES = {
    r.TENURE: _("right to the land"),
    r.CONSENT: _("consent of those who hold rights"),
    "native_grassland": _("native grassland or savanna"),
    "peat": _("peat"),
    "wetland": _("wetland"),
    "protected_habitat": _("protected habitat or species"),
    "services_checked": _("buried pipes and cables"),
    "plant_health_notice": _("plant-health notice"),
}
QUESTIONS = {
    "native_grassland": _("Is any of the ground native grassland or savanna?"),
    "peat": _("Is any of it peat?"),
    "wetland": _("Is any of it wetland?"),
    "protected_habitat": _("Is any of it protected, or home to protected species or old remains?"),
    "services_checked": _("Have the owners of pipes and cables said where they run?"),
    "plant_health_notice": _("Does a plant-health notice hold here?"),
}
WHO_KNOWS = {
    "native_grassland": _("Old open ground is a habitat of its own. Ask a botanist before calling it empty."),
    "peat": _("Trees dry it out. A peat probe tells its depth."),
    "wetland": _("Ask the water or nature authority."),
    "protected_habitat": _("Ask the nature and the heritage authority; their word counts, not this page."),
    "services_checked": _(
        "Ask every owner before the first hole is dug, and stop when something unknown turns up."
    ),
    "plant_health_notice": _("Ask the national plant-protection organisation."),
}
ANSWERS = [(r.YES, _("yes")), (r.NO, _("no")), (r.NOT_KNOWN, _("not known"))]
YES_OR_NO = [(r.YES, _("yes")), (r.NO, _("no"))]
STATES = {
    r.STANDS: _("stops a plan"),
    r.UNKNOWN: _("not known yet"),
    r.CLEAR: _("clear"),
    r.OVERRIDDEN: _("a manager answers for it"),
}
AGREEMENT_STATES = {
    r.NOT_BEGUN: _("not begun"),
    r.IN_FORCE: _("in force"),
    r.ENDS_SOON: _("ends soon"),
    r.ENDED: _("ended"),
    r.WITHDRAWN: _("withdrawn"),
}
COURSES = {
    n.LEAVE: _("Leave it alone: enough young trees stand here."),
    n.ASSIST: _("Assist: enough stand here, but they need to be freed from what holds them back."),
    n.ENRICH: _("Enrich: plant what is lacking among the young trees that stand here."),
    n.PLANT: _("Plant: fewer than half of the wanted young trees stand here."),
    n.COUNT_MORE: _("Count more circles before deciding: the lower limit is not known yet."),
}
NO_INTERVAL = {
    n.NO_CIRCLES: _("No circle has been counted yet."),
    n.ONE_CIRCLE: _(
        "One circle says nothing about how much circles differ; count at least one more, better ten."
    ),
    n.ALL_ALIKE: _(
        "All circles hold the same number, so how much they differ cannot be told. Count more of them."
    ),
}
