"""What the API takes and gives, described for machines."""

from drf_spectacular.renderers import OpenApiJsonRenderer
from drf_spectacular.views import SpectacularAPIView


class Schema(SpectacularAPIView):
    """The description, for anybody."""

    authentication_classes = ()
    permission_classes = ()
    renderer_classes = (OpenApiJsonRenderer,)
