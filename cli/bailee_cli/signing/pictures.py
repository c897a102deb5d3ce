"""A picture that a statement speaks of: bound by its digest, never sent."""

from __future__ import annotations

import hashlib
from base64 import urlsafe_b64encode
from pathlib import Path
from typing import Any, Final

from bailee.errors import Malformed

_PICTURES: Final = {
    ".jpg": "image/jpeg",
    ".jpeg": "image/jpeg",
    ".png": "image/png",
    ".webp": "image/webp",
    ".heic": "image/heic",
}


def digest(file: Path) -> dict[str, Any]:
    """What binds a picture to a statement: digest, size and type. The file itself stays where it is."""
    kind = _PICTURES.get(file.suffix.lower())
    if kind is None:
        raise Malformed(
            f"{file} is not a picture: use a {', '.join(sorted(_PICTURES))} file.", code="bad-photo"
        )
    content = file.read_bytes()
    if not content:
        raise Malformed(f"{file} is empty: photograph again.", code="bad-photo")
    digest = urlsafe_b64encode(hashlib.sha256(content).digest()).decode().rstrip("=")
    return {"sha-256": digest, "size": len(content), "type": kind}
