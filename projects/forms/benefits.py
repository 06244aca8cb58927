"""Forms about what people may gain of the trees, and about the carbon they may hold."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import access, carbon_words
from projects.access import Actor
from projects.calc.carbon import PLANTED
from projects.forms.fields import CountField, MeasureField
from projects.forms.stock import choosable_species
from projects.forms.versioned import VersionedForm
from projects.models import ExpectedBenefit, Project, Site
from projects.selectors.value import AGREED
from projects.services.benefits import LONGEST_YEARS


class BenefitForm(VersionedForm):
    """A gain: of what, for whom, in which years, from how little to how much."""

    from_year = CountField(
        label=gettext_lazy("From year after planting"), min_value=0, max_value=LONGEST_YEARS
    )
    until_year = CountField(
        label=gettext_lazy("Until year after planting"), min_value=0, max_value=LONGEST_YEARS
    )
    lowest = MeasureField(
        label=gettext_lazy("At least"),
        min_value=0,
        help_text=gettext_lazy("In a poor year, or of a poor tree."),
    )
    highest = MeasureField(label=gettext_lazy("At most"), min_value=0)

    class Meta:
        model = ExpectedBenefit
        fields = [
            "kind", "species", "consent", "from_year", "until_year", "lowest", "highest", "unit", "per", "source",
        ]  # fmt: skip
        labels = {
            "consent": gettext_lazy("Under which agreement"),
            "species": gettext_lazy("Of which species"),
        }
        help_texts = {
            "unit": gettext_lazy(
                "For example kg a year, or m³ once. Write it the same way each time: only what has the same unit "
                "is added up."
            ),
            "source": gettext_lazy(
                "Whose experience, which trial, which page. “A guess of ours” is a source too, as long as it says so."
            ),
        }

    def __init__(self, actor: Actor, project: Project, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["kind"].choices = ExpectedBenefit._meta.get_field("kind").choices
        self.fields["per"].choices = ExpectedBenefit._meta.get_field("per").choices
        self.fields["species"].queryset = choosable_species(actor)
        self.fields["species"].empty_label = _("all of them")
        consents = access.visible_consents(actor).filter(kind__in=AGREED, site__blocks__project=project)
        self.fields["consent"].queryset = consents.distinct().order_by("site__name", "given_on", "id")
        self.fields["consent"].empty_label = _("no agreement in particular")
        self.fields["consent"].label_from_instance = lambda row: f"{row.with_whom}, {row.site}"


class ZoneForm(VersionedForm):
    """The ecological zone of a site; carbon is reckoned only where it is chosen."""

    ecological_zone = forms.ChoiceField(
        label=gettext_lazy("Ecological zone"),
        required=False,
        choices=lambda: [("", _("not chosen: no carbon is reckoned")), *carbon_words.ZONES.items()],
    )

    class Meta:
        model = Site
        fields = ["ecological_zone"]


class CarbonForm(forms.Form):
    """What the carbon range rests on; every figure may be replaced by a better one. Read from the address."""

    years = CountField(label=gettext_lazy("Years after planting"), min_value=1, max_value=100)
    forest = forms.ChoiceField(label=gettext_lazy("Growth of"), choices=lambda: carbon_words.FORESTS.items())
    growth_low = MeasureField(
        label=gettext_lazy("Growth from, t/ha/year"), required=False, min_value=0, max_value=100
    )
    growth_high = MeasureField(
        label=gettext_lazy("Growth to, t/ha/year"), required=False, min_value=0, max_value=100
    )

    DEFAULTS = {"years": 20, "forest": PLANTED, "growth_low": None, "growth_high": None}

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        low, high = values.get("growth_low"), values.get("growth_high")
        if (low is None) != (high is None) and not self.errors:
            self.add_error("growth_low" if low is None else "growth_high", _("Give both ends of the range."))
        if low is not None and high is not None and high < low:
            self.add_error("growth_high", _("This is less than the lower end."))
        return values
