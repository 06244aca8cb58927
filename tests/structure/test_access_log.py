"""The access log never holds the secret part of a share link."""

from datetime import timedelta
from types import SimpleNamespace

from gunicorn.config import Config

from deploy.gunicorn import WithoutTokens


def test_a_share_token_stays_out_of_every_part_of_the_line():
    token = "wEHh3o-not-a-real-token"
    path = f"/s/{token}/chart/survival.svg"
    environ = {
        "REQUEST_METHOD": "GET", "RAW_URI": path, "PATH_INFO": path, "SERVER_PROTOCOL": "HTTP/1.1",
        "HTTP_REFERER": f"http://127.0.0.1/s/{token}/",
    }  # fmt: skip
    response = SimpleNamespace(status="200 OK", sent=1, headers=[])
    request = SimpleNamespace(headers=[("REFERER", environ["HTTP_REFERER"])])
    atoms = WithoutTokens(Config()).atoms(response, request, environ, timedelta(seconds=1))
    assert token not in str(atoms)
    assert "/s/…" in atoms["r"]
