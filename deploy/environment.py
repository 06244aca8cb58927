"""Small readers of the process environment; each says what it wanted when it cannot read a value."""

import os
from pathlib import Path

TRUE_WORDS = {"1", "true", "yes", "on"}
FALSE_WORDS = {"", "0", "false", "no", "off"}


class BadEnvironment(ValueError):
    """A variable holds a value that cannot be used; the message names it and says what to write."""


def text(name: str, default: str = "") -> str:
    """Return the variable's text without surrounding blanks."""
    return os.environ.get(name, default).strip()


def flag(name: str, *, default: bool = False) -> bool:
    """Return a yes/no variable."""
    value = text(name, "1" if default else "0").lower()
    if value in TRUE_WORDS:
        return True
    if value in FALSE_WORDS:
        return False
    raise BadEnvironment(f"{name} is “{value}”. Write 1 for yes or 0 for no.")


def whole(name: str, default: int) -> int:
    """Return a whole-number variable."""
    value = text(name, str(default))
    if not value.lstrip("-").isdigit():
        raise BadEnvironment(f"{name} is “{value}”. Write a whole number, for example {default}.")
    return int(value)


def words(name: str, default: str = "") -> list[str]:
    """Return a comma-separated variable as a list without empty parts."""
    return [part.strip() for part in text(name, default).split(",") if part.strip()]


def folder(name: str, default: Path) -> Path:
    """Return a folder path, made when missing."""
    path = Path(text(name) or default)
    path.mkdir(parents=True, exist_ok=True)
    return path


def secret(name: str, keep_in: Path) -> str:
    """Return a secret from the environment, else one made once and kept in a private file."""
    value = text(name)
    if value:
        return value
    if not keep_in.exists():
        import secrets

        keep_in.touch(mode=0o600)
        keep_in.write_text(secrets.token_urlsafe(48))
    return keep_in.read_text().strip()
