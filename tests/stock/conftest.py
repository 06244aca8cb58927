"""Stock for tests: a season that holds the days, and fields of a lot as a form sends them."""

from datetime import date

import pytest

from projects.services import nurseries, seasons


@pytest.fixture
def winter(actor):
    return seasons.make_season(
        actor=actor,
        kind="planting",
        label="winter 2023/24",
        starts_on=date(2023, 10, 1),
        ends_on=date(2024, 4, 30),
    )


@pytest.fixture
def nursery(actor):
    return nurseries.make_nursery(actor=actor, name="Alto", lead_time_weeks=10)


@pytest.fixture
def lot_fields(nursery, oak):
    return {
        "code": "24-200", "nursery": nursery.pk, "species": oak.pk, "stock_type": "bare_root", "unit": "tree",
        "received": "900", "received_on": "2024-02-01", "lifted_on": "2024-01-30", "currency": "EUR",
        "unit_cost": "0,85",
    }  # fmt: skip
