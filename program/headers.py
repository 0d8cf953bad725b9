"""What every answer tells the browser beyond what Django tells it."""

from collections.abc import Callable
from urllib.parse import urlsplit

from django.http import HttpRequest, HttpResponse

# Photos come through a file field, which needs no ability of a device. A page that reads labels by
# the camera says so by `needs_camera` on its response.
PERMISSIONS_POLICY = ", ".join(
    f"{ability}=()"
    for ability in (
        "accelerometer",
        "camera",
        "display-capture",
        "geolocation",
        "gyroscope",
        "magnetometer",
        "microphone",
        "midi",
        "payment",
        "usb",
    )
)


def more_headers(get_response: Callable) -> Callable[[HttpRequest], HttpResponse]:
    """Add the permissions policy, and keep other sites from embedding what we answer."""

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        policy = PERMISSIONS_POLICY
        if getattr(response, "needs_camera", False):
            policy = policy.replace("camera=()", "camera=(self)")
        response.headers.setdefault("Permissions-Policy", policy)
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        return response

    return answer


def base_map_allowed(get_response: Callable) -> Callable[[HttpRequest], HttpResponse]:
    """Let pages show pictures of the base map's server, where the utility named one.

    `base_map` of the request is written as the page is (`program.context`).
    """

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        parts = urlsplit(getattr(request, "base_map", ""))
        if parts.netloc:
            response._csp_update = {"img-src": f"{parts.scheme}://{parts.netloc}"}
        return response

    return answer
