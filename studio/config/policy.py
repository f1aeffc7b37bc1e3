"""What a page of ours may load, run and ask for: nothing of elsewhere, no script or style inside a page."""

from csp.constants import NONE, SELF

OWN = ("script-src", "style-src", "img-src", "font-src", "connect-src", "manifest-src", "worker-src", "form-action")
CONTENT = {
    "DIRECTIVES": {
        **{key: [NONE] for key in ("default-src", "object-src", "base-uri", "frame-ancestors")},
        **{key: [SELF] for key in OWN},
        "media-src": [SELF, "blob:"],  # a take that is still on the phone is played from its memory
    }
}
PERMISSIONS = "microphone=(self), camera=(), geolocation=(), payment=(), usb=()"
