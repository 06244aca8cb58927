"""What a round knows, looked up by the words of a spreadsheet: plots, species, baselines, earlier visits.

Everything but the names of species is read once, so the number of queries does not grow with the plots.
"""

import difflib
from collections import defaultdict
from collections.abc import Iterable, Sequence

from django.utils.translation import gettext as _

from monitoring.calc.spreadsheet_cells import folded
from monitoring.models import PlotBaseline, RoundPlot, SurveyRound, SurvivalPlot, Visit
from species.access import visible_species
from species.models import Species, SpeciesName
from species.selectors.finding import current, find_exactly

MOST_NAMED = 12


class CellFault(Exception):
    """One cell cannot be taken: which meaning it has, and what to do."""

    def __init__(self, meaning: str, detail: str) -> None:
        super().__init__(detail)
        self.meaning, self.detail = meaning, detail


class RoundBook:
    """The plots of a round with their baselines and counting visits, and the species a cell may name."""

    def __init__(self, survey_round: SurveyRound) -> None:
        self.round = survey_round
        rows = RoundPlot.objects.filter(round=survey_round).select_related("plot__block__site")
        self.plots = [row.plot for row in rows.order_by("plot__block__name", "plot__name", "plot_id")]
        self.by_name: dict[str, list[SurvivalPlot]] = defaultdict(list)
        for plot in self.plots:
            self.by_name[plot.name.strip().casefold()].append(plot)
        self.baselines: dict[int, list[PlotBaseline]] = defaultdict(list)
        known = PlotBaseline.objects.filter(plot__in=self.plots, is_current=True)
        for row in known.select_related("species__superseded_by", "cohort__lot").order_by("plot_id", "id"):
            self.baselines[row.plot_id].append(row)
        counting = Visit.objects.filter(round=survey_round, is_counting=True).prefetch_related("lines")
        self.visits = {visit.plot_id: visit for visit in counting}
        self._species: dict[str, list[Species]] = {}
        self._names: dict[str, str] | None = None

    # --- plots ------------------------------------------------------------------------------
    def plot(self, site: str, block: str, name: str) -> SurvivalPlot:
        """Return the plot that three cells name, or raise `CellFault`."""
        if not name:
            raise CellFault("plot", _("Write which plot this row belongs to."))
        called = self.by_name.get(name.casefold(), [])
        if not called:
            raise CellFault("plot", self.unknown_plot(name, block))
        found = [plot for plot in called if same(site, plot.block.site.name) and same(block, plot.block.name)]
        if len(found) == 1:
            return found[0]
        if not found:
            raise CellFault(
                "block" if block else "site",
                _("Plot %(name)s is in %(places)s. Correct the block, or the plot.")
                % {"name": name, "places": listed(place(plot) for plot in called)},
            )
        raise CellFault(
            "plot",
            _("Several plots are called “%(name)s”: in %(places)s. Write the block in a column of its own.")
            % {"name": name, "places": listed(place(plot) for plot in found)},
        )

    def unknown_plot(self, name: str, block: str) -> str:
        """Say that a plot is not in the round, and which are."""
        here = [plot.name for plot in self.plots if same(block, plot.block.name)]
        names = here or [plot.name for plot in self.plots]
        close = difflib.get_close_matches(name, names, MOST_NAMED, 0.6)
        return _("“%(name)s” is not in this round; plots here are %(names)s.") % {
            "name": name,
            "names": listed(close if len(names) > MOST_NAMED and close else names),
        }

    # --- species and baselines ----------------------------------------------------------------
    def planted(self, plot: SurvivalPlot, species: str, lot: str) -> tuple[Species, list[PlotBaseline]]:
        """Return the species a row counts and the baselines it counts, or raise `CellFault`.

        A row without a lot counts every planting of its species in the plot. A plot without any baseline
        tells stocking only, so its rows name none.
        """
        found = self.species(plot, species)
        rows = [row for row in self.baselines[plot.pk] if current(row.species).pk == found.pk]
        if not rows and self.baselines[plot.pk]:
            raise CellFault(
                "species",
                _(
                    "No %(species)s was planted in plot %(plot)s by its baseline; planted there: %(names)s. "
                    "Correct the species, or set the baseline of the plot first."
                )
                % {"species": found, "plot": plot.name, "names": self.planted_names(plot)},
            )
        named = [row for row in rows if not lot or folded(lot) in lot_names(row)]
        if rows and not named:
            lots = listed(row.cohort.lot.code for row in rows if row.cohort and row.cohort.lot)
            raise CellFault(
                "lot",
                _("This species was not planted here from lot “%(lot)s”; known lots: %(lots)s.")
                % {"lot": lot, "lots": lots or _("none")},
            )
        return (named[0].species if named else found), named

    def species(self, plot: SurvivalPlot, text: str) -> Species:
        """Return the one species a cell names; of several with one common name, the one planted in the plot."""
        key = folded(text)
        if key not in self._species:
            self._species[key] = find_exactly(self.round.organisation.uid, text)
        found = self._species[key]
        here = {current(row.species).pk for row in self.baselines[plot.pk]}
        chosen = found if len(found) == 1 else [species for species in found if species.pk in here]
        if len(chosen) == 1:
            return chosen[0]
        if found:
            detail = _("“%(name)s” may be %(names)s. Write the scientific name.")
            raise CellFault(
                "species", detail % {"name": text, "names": listed(s.scientific_name for s in found)}
            )
        raise CellFault("species", self.unknown_species(plot, text))

    def unknown_species(self, plot: SurvivalPlot, text: str) -> str:
        """Say that a species is unknown, with names that come close, else what was planted in the plot."""
        names = self.species_names()
        close = difflib.get_close_matches(folded(text), list(names), 3, 0.75)
        told = {"name": text, "names": listed(dict.fromkeys(names[name] for name in close))}
        if close:
            return _("“%(name)s” is not in the species reference. Did you mean %(names)s?") % told
        told["names"] = self.planted_names(plot) or _("nothing")
        return (
            _("“%(name)s” is not in the species reference. Planted in this plot by its baseline: %(names)s.")
            % told
        )

    def species_names(self) -> dict[str, str]:
        """Return every name of a visible species, folded, with the scientific name; read at first need."""
        if self._names is None:
            rows = visible_species(self.round.organisation.uid)
            vernacular = SpeciesName.objects.filter(species__in=rows).values_list(
                "folded", "species__scientific_name"
            )
            self._names = {**dict(vernacular), **dict(rows.values_list("folded", "scientific_name"))}
        return self._names

    def planted_names(self, plot: SurvivalPlot) -> str:
        return listed(dict.fromkeys(row.species.scientific_name for row in self.baselines[plot.pk]))


def same(said: str, name: str) -> bool:
    """Say whether a cell names a place; an empty cell leaves it open."""
    return not said or folded(said) == folded(name)


def place(plot: SurvivalPlot) -> str:
    return f"{plot.block.name} ({plot.block.site.name})"


def lot_names(row: PlotBaseline) -> set[str]:
    """Return what a cell may call the planting of a baseline: its cohort, or its lot."""
    if row.cohort is None:
        return set()
    names = (row.cohort.label, row.cohort.lot.code if row.cohort.lot else "")
    return {folded(name) for name in names if name}


def listed(names: Iterable[str]) -> str:
    """Return names with commas between, the first dozen."""
    all_names: Sequence[str] = list(names)
    more = ["…"] if len(all_names) > MOST_NAMED else []
    return ", ".join([*all_names[:MOST_NAMED], *more])
