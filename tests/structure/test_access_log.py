"""The access log never holds the secret part of an address."""

from datetime import timedelta
from types import SimpleNamespace

import pytest
from gunicorn.config import Config

from deploy.gunicorn import WithoutTokens

TOKEN = "wEHh3o-not-a-real-token"


@pytest.mark.parametrize(
    ("path", "told"),
    [
        (f"/s/{TOKEN}/chart/survival.svg", "/s/…/chart"),
        (f"/calendar/{TOKEN}.ics", "/calendar/…"),
        (f"/letter/{TOKEN}/stop/", "/letter/…/stop/"),
    ],
)
def test_a_token_stays_out_of_every_part_of_the_line(path, told):
    environ = {
        "REQUEST_METHOD": "GET", "RAW_URI": path, "PATH_INFO": path, "SERVER_PROTOCOL": "HTTP/1.1",
        "HTTP_REFERER": f"http://127.0.0.1{path}",
    }  # fmt: skip
    response = SimpleNamespace(status="200 OK", sent=1, headers=[])
    request = SimpleNamespace(headers=[("REFERER", environ["HTTP_REFERER"])])
    atoms = WithoutTokens(Config()).atoms(response, request, environ, timedelta(seconds=1))
    assert TOKEN not in str(atoms)
    assert told in atoms["r"]
