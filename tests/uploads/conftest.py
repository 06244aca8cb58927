"""A round of twelve plots in two blocks, files that count it, and the way through the pages."""

import csv
import io
from dataclasses import dataclass
from typing import Any

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from monitoring.models import CountLine, PlotBaseline, SurveyRound, SurvivalPlot, Upload, Visit
from projects.models import RefusedItem, Submission
from projects.services import jobs
from tests import factories

HEADINGS = ["plot", "species", "alive", "dead_stem", "observed_on"]
DAY = "2025-09-14"


def csv_bytes(rows: list[list[Any]], *, delimiter: str = ",", encoding: str = "utf-8") -> bytes:
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter).writerows(rows)
    return text.getvalue().encode(encoding)


def xlsx_bytes(rows: list[list[Any]]) -> bytes:
    book, file = openpyxl.Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(file)
    return file.getvalue()


def stored() -> tuple[int, ...]:
    """How much of counts there is: whatever is refused must leave this as it was."""
    return tuple(model.objects.count() for model in (Submission, Visit, CountLine, RefusedItem))


@dataclass
class Twelve:
    """Plots N1 to N6 with oak in the north, E1 to E6 with oak and pine in the east; 20 of each planted."""

    survey_round: SurveyRound
    plots: list[SurvivalPlot]
    baselines: list[PlotBaseline]

    def rows(self, alive: int = 14, **other: Any) -> list[list[Any]]:
        """A row for each baseline, as people write them."""
        return [[row.plot.name, row.species.scientific_name, alive, 2, DAY] for row in self.baselines]

    def table(self, *changes: tuple[int, str, Any]) -> list[list[Any]]:
        """The whole table with headings; each change is (line, heading, value)."""
        table = [HEADINGS[:], *self.rows()]
        for line, heading, value in changes:
            table[line - 1][HEADINGS.index(heading)] = value
        return table


@pytest.fixture
def twelve(project, site, hill, oak, block, cohort) -> Twelve:
    pine = factories.species("pinus-pinaster")
    lot = factories.lot(hill, pine, code="24-200", stock_type="container")
    east = factories.block(hill, project, site, name="East slope")
    pines = factories.cohort(east, lot, cohort.season)
    plots = [factories.plot(block, f"N{n}") for n in range(1, 7)]
    plots += [factories.plot(east, f"E{n}") for n in range(1, 7)]
    baselines = [
        factories.baseline(plot, oak, 20, cohort=cohort if n < 6 else None) for n, plot in enumerate(plots)
    ]
    baselines += [factories.baseline(plot, pine, 20, cohort=pines) for plot in plots[6:]]
    return Twelve(factories.survey_round(project, plots, name="Second season"), plots, baselines)


class Desk:
    """A person at the upload pages: sends files, presses buttons, lets the work be done."""

    def __init__(self, client: Client, survey_round: SurveyRound) -> None:
        self.client, self.survey_round = client, survey_round

    def url(self, name: str, uid: Any) -> str:
        return reverse(f"monitoring:{name}", kwargs={"org": self.survey_round.organisation.slug, "uid": uid})

    def send(self, content: bytes, name: str = "counts.csv") -> Any:
        """Upload a file; the answer."""
        file = SimpleUploadedFile(name, content)
        return self.client.post(self.url("upload_new", self.survey_round.uid), {"file": file})

    def map(self, upload: Upload, observed_on: str = "", **meanings: str) -> Any:
        """Take the guessed columns over, with changes by heading, and let the file be checked."""
        guess = {column: meaning for meaning, column in upload.mapping["columns"].items()}
        said = {f"column-{n}": guess.get(n, "") for n in range(len(upload.columns))}
        headings = [column["heading"] for column in upload.columns]
        said |= {f"column-{headings.index(heading)}": meaning for heading, meaning in meanings.items()}
        answer = self.client.post(self.url("upload_map", upload.uid), {**said, "observed_on": observed_on})
        jobs.work_through()
        return answer

    def check(self, content: bytes, name: str = "counts.csv", **meanings: Any) -> Upload:
        """Upload a file and have it checked; the upload as it stands then."""
        answer = self.send(content, name)
        assert answer.status_code == 302, answer.content.decode()
        upload = Upload.objects.latest("id")
        self.map(upload, **meanings)
        upload.refresh_from_db()
        return upload

    def put_in(self, upload: Upload) -> Upload:
        """Press the button and let the work be done."""
        self.client.post(self.url("upload_import", upload.uid))
        jobs.work_through()
        upload.refresh_from_db()
        return upload

    def text(self, upload: Upload) -> str:
        """The page of an upload."""
        answer = self.client.get(self.url("upload_detail", upload.uid))
        assert answer.status_code == 200
        return " ".join(answer.content.decode().split())


@pytest.fixture
def desk(signed_in, ben, twelve) -> Desk:
    return Desk(signed_in(ben), twelve.survey_round)
