"""Forms of planting days: preparing one, who goes, its lots, the morning's answer, the evening."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import access, figures
from projects.access import Actor
from projects.forms.fields import CountField, DayField, MeasureField
from projects.forms.versioned import VersionedForm
from projects.models import (
    CrewDay,
    CrewDayLot,
    CrewDayPerson,
    Membership,
    Person,
    Role,
    Season,
    SeasonKind,
    StockLot,
)
from projects.selectors.ledgers import ledgers_of
from projects.services.crew_day_closing import NUMBERS, LotEvening

EMPTY_ROWS = 4


def time_box() -> forms.TimeInput:
    """A box for a time of day that keeps its value whatever the language writes times like."""
    return forms.TimeInput(format="%H:%M", attrs={"type": "time"})


def people_of(actor: Actor) -> QuerySet[Person]:
    """Everybody the organisation knows by name, but for those who only read as funders."""
    people = Person.objects.filter(organisation=actor.organisation, erased_at__isnull=True)
    funders = Membership.objects.filter(role=Role.FUNDER, ended_at__isnull=True)
    people = people.exclude(id__in=funders.filter(organisation=actor.organisation).values("person_id"))
    return people.exclude(name="").order_by("name", "id")


class CrewDayForm(VersionedForm):
    """When, where, and what keeps the crew from harm."""

    day = DayField(label=gettext_lazy("Day"))
    people_expected = CountField(label=gettext_lazy("How many people"), required=False, max_value=1000)
    meet_at = forms.TimeField(label=gettext_lazy("Meet at"), required=False, widget=time_box())
    back_by = forms.TimeField(
        label=gettext_lazy("Back by"),
        required=False,
        widget=time_box(),
        help_text=gettext_lazy("After this time somebody asks where the crew is."),
    )

    class Meta:
        model = CrewDay
        fields = [
            "day", "crew", "lead", "people_expected", "meet_at", "meeting_point", "back_by", "buddies", "depth_note",
            "note",
        ]  # fmt: skip
        labels = {
            "lead": gettext_lazy("Crew leader"),
            "buddies": gettext_lazy("Who is told, and raises the alarm if the crew is not back"),
            "depth_note": gettext_lazy("How deep, in your own words"),
            "note": gettext_lazy("What else the crew should know"),
        }
        help_texts = {
            "crew": gettext_lazy("A name for the crew, not of a person: such as North."),
            "buddies": gettext_lazy(
                "A post and a telephone number. Names of people go on the list of who goes."
            ),
            "depth_note": gettext_lazy("The usual depth of each stock type stands on the sheet by itself."),
        }
        widgets = {"note": forms.Textarea(attrs={"rows": 2})}

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["lead"].queryset = people_of(actor)
        self.fields["lead"].empty_label = _("not named yet")


class CrewForm(forms.Form):
    """Who goes, and who looks after whom: the people already written down, and some empty rows."""

    version = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(
        self, actor: Actor, rows: Sequence[CrewDayPerson], version: str, *args: Any, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.initial["version"] = version
        people = people_of(actor)
        named = [(person.pk, str(person)) for person in people]  # read once, however many rows there are
        self.n_rows = len(rows) + EMPTY_ROWS
        for n in range(self.n_rows):
            row = rows[n] if n < len(rows) else None
            numbered = {"n": n + 1}
            self.fields[f"person_{n}"] = person = forms.ModelChoiceField(
                people,
                required=False,
                label=_("Person %(n)s") % numbered,
                initial=row.person_id if row else None,
            )
            self.fields[f"buddy_{n}"] = buddy = forms.ModelChoiceField(
                people, required=False, label=_("Buddy of person %(n)s") % numbered,
                initial=row.buddy_id if row else None,
            )  # fmt: skip
            person.choices = [("", _("nobody")), *named]
            buddy.choices = [("", _("nobody yet")), *named]

    def clean(self) -> dict[str, Any]:
        """Turn the rows into pairs; a buddy without a person is somebody forgotten."""
        values, people = super().clean() or self.cleaned_data, []
        for n in range(self.n_rows):
            person, buddy = values.get(f"person_{n}"), values.get(f"buddy_{n}")
            if person is not None:
                people.append((person, buddy))
            elif buddy is not None and f"person_{n}" not in self.errors:
                self.add_error(f"person_{n}", _("Choose whom this buddy looks after, or leave both empty."))
        return {**values, "people": people}


class CrewDayLotForm(VersionedForm):
    """A lot to take along: how many are meant, what they replace, how they are marked."""

    planned = CountField(label=gettext_lazy("How many are meant to be planted"), min_value=1)

    class Meta:
        model = CrewDayLot
        fields = ["lot", "planned", "replaces", "mark", "mark_note"]
        labels = {
            "lot": gettext_lazy("Stock lot"),
            "replaces": gettext_lazy("Replaces losses of"),
            "mark": gettext_lazy("How the new trees are marked"),
        }
        help_texts = {
            "mark": gettext_lazy(
                "Replacements are marked on the day, so that later counts can tell them apart."
            ),
        }
        widgets = {"mark": forms.RadioSelect}

    def __init__(self, actor: Actor, day: CrewDay, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["mark"].required = False
        self.fields["mark"].choices = CrewDayLot._meta.get_field("mark").choices
        if self.instance.pk:
            del self.fields["lot"]
        else:
            self._offer_lots(actor, day)
        cohorts = access.visible_cohorts(actor).filter(block_id=day.block_id)
        self.fields["replaces"].queryset = cohorts
        self.fields["replaces"].empty_label = _("what its order names, else nothing: a first planting")
        if not cohorts.exists():
            del self.fields["replaces"]

    def _offer_lots(self, actor: Actor, day: CrewDay) -> None:
        lots: QuerySet[StockLot] = access.visible_lots(actor).current().exclude(crew_days__crew_day=day)
        chosen = self.fields["lot"]
        chosen.queryset, chosen.to_field_name = lots.select_related("species"), "uid"
        rows = list(chosen.queryset.order_by("-received_on", "code"))
        hand = {pk: ledger.at_hand for pk, ledger in ledgers_of(rows).items()}
        here = [(lot.uid, _lot_words(lot, hand[lot.pk])) for lot in rows if hand[lot.pk] > 0]
        gone = [(lot.uid, _lot_words(lot, hand[lot.pk])) for lot in rows if hand[lot.pk] <= 0]
        groups = ((_("On hand"), here), (_("None left by the records"), gone))
        chosen.choices = [("", _("Choose a lot")), *(group for group in groups if group[1])]


def _lot_words(lot: StockLot, on_hand: int) -> str:
    return _("%(code)s, %(species)s, %(type)s: %(n)s on hand") % {
        "code": lot.code,
        "species": lot.species,
        "type": lot.get_stock_type_display(),
        "n": figures.quantity(on_hand),
    }


class EveningForm(forms.Form):
    """What became of each lot, who was back when, and whether boots and tools were cleaned."""

    clean_tools = forms.BooleanField(
        label=gettext_lazy("Boots and tools were cleaned before leaving"), required=False
    )
    season = forms.ModelChoiceField(
        Season.objects.none(),
        required=False,
        label=gettext_lazy("Planting season"),
        help_text=gettext_lazy("Empty: the season that holds the day."),
    )

    def __init__(
        self,
        actor: Actor,
        lots: Sequence[CrewDayLot],
        people: Sequence[CrewDayPerson],
        *args: Any,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.lots, self.people = lots, people
        self.fields["season"].queryset = access.visible_seasons(actor).filter(kind=SeasonKind.PLANTING)
        self.fields["season"].empty_label = _("the one that holds the day")
        labels = {
            "taken": _("Taken out"), "planted": _("Planted"), "culled": _("Culled: not fit to plant"),
            "damaged": _("Brought back damaged"), "lost": _("Lost"),
        }  # fmt: skip
        for row in lots:
            for name, label in labels.items():
                wanted = name == "planted"
                missing = _("Write how many of %(lot)s were planted; 0 if none.") % {"lot": row.lot}
                self.fields[f"{name}_{row.pk}"] = CountField(
                    label=label, required=wanted, error_messages={"required": missing}
                )
            self.initial.setdefault(f"taken_{row.pk}", row.taken)
        for person in people:
            self.fields[f"back_{person.pk}"] = forms.TimeField(
                label=_("%(name)s was back at") % {"name": person.person}, required=False, widget=time_box(),
                initial=person.back_at,
            )  # fmt: skip

    def lot_rows(self) -> list[dict[str, Any]]:
        """The lots with their boxes, for the page."""
        names = ("taken", *NUMBERS)
        return [{"row": row, "boxes": [self[f"{name}_{row.pk}"] for name in names]} for row in self.lots]

    def people_boxes(self) -> list[forms.BoundField]:
        return [self[f"back_{person.pk}"] for person in self.people]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        lots = [
            LotEvening(
                row.pk, taken=values.get(f"taken_{row.pk}"),
                **{name: values.get(f"{name}_{row.pk}") or 0 for name in NUMBERS},
            )
            for row in self.lots
        ]  # fmt: skip
        return {
            "lots": lots,
            "back": {person.pk: values.get(f"back_{person.pk}") for person in self.people},
            "clean_tools": bool(values.get("clean_tools")),
            "season": values.get("season"),
        }


class LoadsForm(forms.Form):
    """How stock comes to hand, for the sheet's word on lifting; nothing is stored."""

    cells = CountField(label=gettext_lazy("Plugs to a tray"), required=False, min_value=1, max_value=1000)
    cell_ml = MeasureField(label=gettext_lazy("Volume of a plug in millilitres"), required=False, min_value=1)
    bundle = CountField(label=gettext_lazy("Plants to a bundle"), required=False, min_value=1, max_value=5000)
    plant_g = MeasureField(label=gettext_lazy("Mass of one plant in grams"), required=False, min_value=0.1)
    ball_cm = MeasureField(
        label=gettext_lazy("Width of a root ball in centimetres"), required=False, min_value=1
    )
    sack_kg = MeasureField(
        label=gettext_lazy("Mass of a sack of seed in kilograms"), required=False, min_value=0.1
    )

    OF = {
        "tray": ("cells", "cell_ml"), "bundle": ("bundle", "plant_g"), "ball": ("ball_cm",), "sack": ("sack_kg",),
    }  # fmt: skip

    def __init__(self, kinds: Sequence[str], *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        wanted = {name for kind in kinds for name in self.OF[kind]}
        for name in set(self.fields) - wanted:
            del self.fields[name]

    def sizes(self) -> dict[str, Any]:
        """What was typed; the usual sizes stand in for the rest."""
        given = self.cleaned_data if self.is_bound and (self.is_valid() or self.cleaned_data) else {}
        return {name: value for name, value in given.items() if value is not None}
