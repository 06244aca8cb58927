"""The address of a monitoring page, and a manager's browser."""

import pytest
from django.urls import reverse


def url(name, **kwargs):
    return reverse(f"monitoring:{name}", kwargs={"org": "hill", **kwargs})


@pytest.fixture
def page(signed_in, ana):
    return signed_in(ana)
