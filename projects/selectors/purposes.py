"""What a project is for, as weights that the mix can use."""

from projects.models import Project, ProjectPurpose


def purpose_weights(project: Project) -> dict[str, int]:
    """Return {use: weight from 1 to 10}, the weightiest first; empty where nobody weighed anything."""
    rows = ProjectPurpose.objects.filter(organisation_id=project.organisation_id, project=project)
    return dict(rows.order_by("-weight", "use").values_list("use", "weight"))
