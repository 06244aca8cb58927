"""System checks: each explains a setting that would hurt, and the cure."""

from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register

LOOPBACK = {"127.0.0.1", "localhost", "[::1]", "testserver"}


@register()
def demo_stays_on_loopback(**_: Any) -> list[CheckMessage]:
    """The demo has printed passwords, so it must never answer to another machine."""
    outside = set(settings.ALLOWED_HOSTS) - LOOPBACK
    if settings.DEMO and (outside or settings.PUBLIC_ADDRESS):
        return [
            Error(
                "TALLYGROVE_DEMO=1 creates sign-ins whose passwords everybody knows, "
                "and this instance answers to other machines.",
                hint="Unset TALLYGROVE_DEMO, or keep TALLYGROVE_HOSTS to 127.0.0.1,localhost "
                "and leave TALLYGROVE_PUBLIC_ADDRESS empty.",
                id="tallygrove.E001",
            )
        ]
    return []


@register()
def public_address_is_https(**_: Any) -> list[CheckMessage]:
    """Phones only keep counts offline on a secure page, and cookies must not travel in clear."""
    if settings.PUBLIC_ADDRESS and not settings.PUBLIC_ADDRESS.startswith("https://"):
        return [
            Error(
                f"TALLYGROVE_PUBLIC_ADDRESS is {settings.PUBLIC_ADDRESS}, which is not https.",
                hint="Put a TLS proxy in front and write the address it answers to, "
                "for example https://grove.example.",
                id="tallygrove.E002",
            )
        ]
    return []


@register()
def hosts_match_public_address(**_: Any) -> list[CheckMessage]:
    """A public address whose host is not allowed answers 400 to everybody."""
    host = settings.PUBLIC_ADDRESS.removeprefix("https://").split("/")[0].split(":")[0]
    if host and host not in settings.ALLOWED_HOSTS:
        return [
            Error(
                f"TALLYGROVE_HOSTS does not name {host}, so every visitor would be refused.",
                hint=f"Set TALLYGROVE_HOSTS={host},127.0.0.1.",
                id="tallygrove.E003",
            )
        ]
    return []


@register()
def debug_stays_on_loopback(**_: Any) -> list[CheckMessage]:
    """Debug pages show code and settings."""
    if settings.DEBUG and settings.PUBLIC_ADDRESS:
        return [
            Error(
                "TALLYGROVE_DEBUG=1 shows code and settings to every visitor.",
                hint="Unset TALLYGROVE_DEBUG on any instance with a public address.",
                id="tallygrove.E004",
            )
        ]
    return []


@register()
def service_needs_a_server_database(**_: Any) -> list[CheckMessage]:
    """Several worker processes and SQLite wait for one another."""
    engine = settings.DATABASES["default"]["ENGINE"]
    if settings.BROKER and engine.endswith("sqlite3"):
        return [
            Warning(
                "TALLYGROVE_BROKER is set but the database is SQLite; web and worker will wait for each other.",
                hint="Set TALLYGROVE_DATABASE=postgresql://… or unset TALLYGROVE_BROKER for the embedded mode.",
                id="tallygrove.W001",
            )
        ]
    return []


@register(Tags.security, deploy=True)
def secret_comes_from_the_environment(**_: Any) -> list[CheckMessage]:
    """Several machines must share one secret, or sign-ins on one fail on the other."""
    from deploy import environment as env

    if settings.PUBLIC_ADDRESS and not env.text("TALLYGROVE_SECRET_KEY"):
        return [
            Warning(
                "The secret key was made on this machine and lives in its data folder.",
                hint="Set TALLYGROVE_SECRET_KEY to one long random text on every machine of the service.",
                id="tallygrove.W002",
            )
        ]
    return []
