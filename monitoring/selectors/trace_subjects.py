"""What a page of tracing is about: a block or one of its species, a planting, a lot, a delivery, a nursery, an order,
a day, a crew. Each names the planting days it stands for; everything else is read from those."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Q, QuerySet
from django.http import Http404
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from monitoring.trace_words import TITLES
from projects import access, figures
from projects.access import Actor
from projects.models import Cohort, StockType
from species.models import Species

VERB = "trace.view"
NOTHING = gettext_lazy("There is nothing at this address.")


@dataclass(frozen=True)
class Subject:
    """What is traced: its name, its planting days, and the scope and key of its own figure where it has one."""

    noun: str
    label: str
    days: Q  # over PlantingDay
    scope: str = ""
    key: str = ""
    project_id: int | None = None  # whose figure it is, where several projects hold the key
    page: str = ""  # the address its own page goes by
    uid: UUID | None = None
    note: str = ""
    lots: Q | None = None  # over StockLot: those told of even where nothing of them is planted

    @property
    def title(self) -> str:
        return _(TITLES[self.noun])

    @property
    def cohorts(self) -> Q:
        """Over Cohort: those with a planting day of the subject."""
        return Q(pk__in=_standing().filter(self.days).values("cohort_id"))


def _standing() -> QuerySet:
    return access.models.PlantingDay.objects.filter(voided_at__isnull=True)


Narrow = Mapping[str, str]


def of_block(actor: Actor, uid: UUID, narrow: Narrow) -> Subject:
    block = access.block_for(actor, uid, VERB)
    slug = narrow.get("species", "")
    if not slug:
        return Subject(
            "block", block.name, Q(block=block), "block", str(block.uid), page="projects:block_detail",
            uid=block.uid, note=block.site.name,
        )  # fmt: skip
    species = _species(actor, slug)
    return Subject(
        "block", f"{species}, {block.name}", Q(block=block, cohort__species=species), "block_species",
        f"{block.uid}:{species.slug}", page="projects:block_detail", uid=block.uid, note=block.site.name,
    )  # fmt: skip


def of_project(actor: Actor, uid: UUID, narrow: Narrow) -> Subject:
    """Plantings of a project, of one species or one stock type where the address names it."""
    project = access.project_for(actor, uid, VERB)
    days, scope, key, what = Q(block__project=project), "project", str(project.uid), ""
    if slug := narrow.get("species", ""):
        species = _species(actor, slug)
        days, scope, key, what = days & Q(cohort__species=species), "species", species.slug, str(species)
    elif (stock := narrow.get("stock", "")) in StockType.values:
        days, scope, key = days & Q(cohort__stock_type=stock), "stock_type", stock
        what = str(StockType(stock).label)
    label = f"{what}, {project.name}" if what else project.name
    return Subject(
        "project", label, days, scope, key, project.pk, page="projects:project_detail", uid=project.uid
    )


def _species(actor: Actor, slug: str) -> Species:
    """A species planted where the actor may read."""
    found = Species.objects.filter(slug=slug, pk__in=access.visible_cohorts(actor).values("species_id"))
    return access.get_or_404(found, slug=slug)


def of_cohort(actor: Actor, uid: UUID, narrow: Narrow) -> Subject:
    cohort: Cohort = access.cohort_for(actor, uid, VERB)
    return Subject(
        "cohort", str(cohort), Q(cohort=cohort), "cohort", str(cohort.uid), page="projects:cohort_detail",
        uid=cohort.uid, note=f"{cohort.block}, {cohort.season.label}",
    )  # fmt: skip


def of_lot(actor: Actor, uid: UUID, narrow: Narrow) -> Subject:
    lot = access.lot_for(actor, uid, VERB)
    return Subject(
        "lot", lot.code, Q(lot=lot), "lot", str(lot.uid), page="projects:lot_detail", uid=lot.uid,
        note=f"{lot.species}, {lot.get_stock_type_display()}", lots=Q(pk=lot.pk),
    )  # fmt: skip


def of_delivery(actor: Actor, uid: UUID, narrow: Narrow) -> Subject:
    row = access.delivery_for(actor, uid, VERB)
    day = figures.day(row.delivered_on)
    return Subject(
        "delivery", _("Delivery of %(day)s") % {"day": day}, Q(lot__delivery=row), page="projects:delivery_detail",
        uid=row.uid, note=str(row.nursery), lots=Q(delivery=row),
    )  # fmt: skip


def of_nursery(actor: Actor, uid: UUID, narrow: Narrow) -> Subject:
    row = access.nursery_for(actor, uid, VERB)
    if actor.project_ids is not None and not access.visible_lots(actor).filter(nursery=row).exists():
        raise Http404(NOTHING)
    return Subject(
        "nursery",
        row.name,
        Q(lot__nursery=row),
        "nursery",
        str(row.uid),
        page="projects:nursery_detail",
        uid=row.uid,
    )


def of_order(actor: Actor, uid: UUID, narrow: Narrow) -> Subject:
    row = access.order_for(actor, uid, VERB)
    label = row.reference or _("Order for %(project)s") % {"project": row.project.name}
    days = Q(lot__delivery__order=row) | Q(lot__order_line__order=row)
    return Subject(
        "order", label, days, page="projects:order_detail", uid=row.uid, note=row.project.name,
        lots=Q(delivery__order=row) | Q(order_line__order=row),
    )  # fmt: skip


def of_day(actor: Actor, uid: UUID, narrow: Narrow) -> Subject:
    """All that one crew planted in one block on the day of a record."""
    row = access.planting_day_for(actor, uid, VERB)
    days = Q(planted_on=row.planted_on, crew=row.crew, block=row.block)
    return Subject(
        "day", figures.day(row.planted_on), days, page="projects:planting_day_detail", uid=row.uid,
        note=", ".join(filter(None, [row.block.name, row.crew])),
    )  # fmt: skip


def of_crew_day(actor: Actor, uid: UUID, narrow: Narrow) -> Subject:
    row = access.crew_day_for(actor, uid, VERB)
    return Subject(
        "crew_day", figures.day(row.day), Q(crew_day=row), page="projects:crew_day_detail", uid=row.uid,
        note=", ".join(filter(None, [row.block.name, row.crew])),
    )  # fmt: skip


def of_crew(actor: Actor, name: str) -> Subject:
    """All that went into the ground under one crew's name, as it was written down."""
    actor.require(VERB)
    if not access.visible_planting_days(actor).filter(crew=name).exists():
        raise Http404(NOTHING)
    return Subject("crew", name, Q(crew=name))


def crews(actor: Actor) -> list[str]:
    """Every crew that was written down, by name."""
    actor.require(VERB)
    rows = access.visible_planting_days(actor).filter(voided_at__isnull=True).exclude(crew="")
    return list(rows.order_by("crew").values_list("crew", flat=True).distinct())


NOUNS: dict[str, Callable[[Actor, UUID, Narrow], Subject]] = {
    "block": of_block, "project": of_project, "cohort": of_cohort, "lot": of_lot, "delivery": of_delivery,
    "nursery": of_nursery, "order": of_order, "day": of_day, "crew_day": of_crew_day,
}  # fmt: skip
