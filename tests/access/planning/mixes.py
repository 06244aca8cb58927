"""Who may open what of: the mix of a plan."""

from typing import Any

from projects.models import MixLine
from tests import factories
from tests.access.letters import ML, M

POLICY: dict[tuple[str, str], str] = {
    ("projects:plan_mix", "GET"): ML,
    ("projects:plan_mix", "POST"): M,
    ("projects:plan_mix_search", "POST"): M,
    ("projects:plan_mix_take", "POST"): M,
    ("projects:plan_mix_line", "GET"): M,
    ("projects:plan_mix_line", "POST"): M,
    ("projects:plan_mix_block", "POST"): M,
    ("projects:plan_mix_sums", "POST"): M,
}


def more(world: Any, text: str) -> None:
    """Plant something in the world's block, for a reason that a stranger must never read."""
    MixLine.objects.create(
        organisation=world.org, plan=world.plan, block=world.block, species=factories.species(),
        stock_type="bare_root", quantity=5, introduced_reason=text,
    )  # fmt: skip


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    return {name: world.plan for name, _method in POLICY}


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {}
