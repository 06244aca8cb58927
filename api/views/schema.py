"""The OpenAPI description of this API."""

from drf_spectacular.renderers import OpenApiJsonRenderer
from drf_spectacular.utils import extend_schema
from drf_spectacular.views import SpectacularAPIView

from api.permissions import OPEN
from api.views.base import ApiView


@extend_schema(exclude=True)
class SchemaView(ApiView, SpectacularAPIView):
    """OpenAPI 3.1 as JSON; it tells the shape of the service and nothing of its data."""

    verbs = {"GET": OPEN}
    authentication_classes = []
    permission_classes = ApiView.permission_classes
    renderer_classes = [OpenApiJsonRenderer]
