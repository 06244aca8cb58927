"""Words of the carbon range: ecological zones, what growth is meant, and the cautions that go with every figure."""

from django.utils.translation import gettext_lazy as _

from projects.calc.carbon import NATURAL, PLANTED

ZONES = {
    "tropical_rain": _("tropical rain forest"),
    "tropical_moist": _("tropical moist deciduous forest"),
    "tropical_dry": _("tropical dry forest"),
    "tropical_shrub": _("tropical shrubland"),
    "tropical_mountain": _("tropical mountains"),
    "subtropical_humid": _("subtropical humid forest"),
    "subtropical_dry": _("subtropical dry forest"),
    "subtropical_steppe": _("subtropical steppe"),
    "subtropical_mountain": _("subtropical mountains"),
    "temperate_oceanic": _("temperate oceanic forest"),
    "temperate_continental": _("temperate continental forest"),
    "temperate_mountain": _("temperate mountains"),
    "boreal_coniferous": _("boreal coniferous forest"),
    "boreal_tundra": _("boreal tundra woodland"),
    "boreal_mountain": _("boreal mountains"),
}
FORESTS = {NATURAL: _("natural forest"), PLANTED: _("planted forest")}
SOURCE = _("from memory of the tables of IPCC 2006/2019, Vol. 4, Ch. 4; check before use")
STATED = _("as you stated it")
CAUTIONS = (
    _("It is a range of default values for a whole zone, not a measurement of these trees."),
    _("It is not a promise and not a credit, and it cannot be sold or counted against emissions."),
    _("Losses by fire, drought, storm, pests, thinning and felling are not taken off."),
    _("Soil, litter and dead wood are not in it; preparing the ground can release carbon from the soil."),
    _(
        "What grew there before, what would have come without planting, and what is felled elsewhere instead are "
        "not taken off."
    ),
    _("How long the carbon stays depends on who looks after the trees, and for how long."),
)
DEFER = _("Before anybody outside is told a figure, ask a carbon verifier.")
