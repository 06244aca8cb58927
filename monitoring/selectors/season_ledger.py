"""What was planted up to the end of a season, by site, species and planting season; and what it has cost."""

from collections.abc import Mapping
from typing import Any

from django.db.models import OuterRef, Q, Subquery, Sum

from projects.calc.money_by_season import Money
from projects.models import Block, BlockGround, BudgetLine, PlantingDay, Project, Season, Unit
from projects.selectors.money import in_currency

Row = dict[str, Any]


def planted(project: Project, season: Season) -> Row:
    """Trees planted by the ledger, replacements and seed spots apart."""
    days = PlantingDay.objects.filter(
        block__project=project, voided_at__isnull=True, planted_on__lte=season.ends_on
    )
    columns = (
        "cohort__unit", "cohort__replaces_id", "block__site__name", "block__site__uid",
        "cohort__species__scientific_name", "cohort__species__slug", "cohort__season__label", "cohort__season__uid",
    )  # fmt: skip
    groups: dict[str, dict[str, Row]] = {"sites": {}, "species": {}, "seasons": {}}
    total = empty_row("")
    for unit, replaces, site, site_uid, species, slug, label, season_uid, number in (
        days.order_by().values_list(*columns).annotate(n=Sum("quantity"))
    ):
        column = column_of(unit, replaces is not None)
        total[column] += number
        for name, key, words in (
            ("sites", str(site_uid), site), ("species", slug, species), ("seasons", str(season_uid), label),
        ):  # fmt: skip
            groups[name].setdefault(key, empty_row(words))[column] += number
    return total | {name: sorted_rows(rows) for name, rows in groups.items()}


def empty_row(label: str) -> Row:
    return {"label": label, "trees": 0, "replacements": 0, "spots": 0, "seeds": 0}


def column_of(unit: str, replaces: bool) -> str:
    if unit == Unit.TREE:
        return "replacements" if replaces else "trees"
    return "spots" if unit == Unit.SEED_SPOT else "seeds"


def sorted_rows(rows: Mapping[str, Row]) -> list[Row]:
    return sorted(
        ({"key": key} | row for key, row in rows.items()), key=lambda row: (row["label"], row["key"])
    )


def areas(project: Project) -> dict[str, float]:
    """Net area of each block by uid, in hectares."""
    newest = (
        BlockGround.objects.filter(block_id=OuterRef("id")).order_by("-version").values("net_area_ha")[:1]
    )
    rows = Block.objects.filter(project=project).annotate(net=Subquery(newest)).values_list("uid", "net")
    return {str(uid): area for uid, area in rows if area is not None}


def money(project: Project, season: Season) -> Row:
    """Spent and planned up to a season in the project's currency; lines without a rate are counted, not guessed."""
    until = Q(season__isnull=True) | Q(season__starts_on__lte=season.ends_on)
    found: Row = {"currency": project.currency, "n_lines": 0, "n_without_rate": 0}
    total = Money()
    for line in BudgetLine.objects.filter(until, project=project).order_by("id"):
        held = in_currency(line, project.currency)
        found["n_lines"] += held is not None
        found["n_without_rate"] += held is None
        total += held or Money()
    return found | {"spent_minor": total.spent, "planned_minor": total.planned}
