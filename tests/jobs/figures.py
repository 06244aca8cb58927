"""Looking figures up in tests."""

from monitoring.models import Estimate


def headline(scope: str, measure: str = "survival", **lookup) -> Estimate:
    """The one row shown first for a scope and measure."""
    return Estimate.objects.get(scope=scope, measure=measure, is_headline=True, **lookup)
