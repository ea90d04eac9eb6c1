"""Runs in a hub's environment: which packages its components want that it would otherwise fetch while it starts."""

from __future__ import annotations

import json
from pathlib import Path

from homeassistant import components  # type: ignore[import-not-found]

#: What the campaign uses, and what later releases load whether it is used or not.
USED = (
    "api auth automation backup binary_sensor button config frontend history homeassistant http logger mqtt onboarding "
    "persistent_notification recorder script sensor sun system_log template text websocket_api ai_task analytics "
    "assist_pipeline assist_satellite camera cloud conversation dhcp ffmpeg file_upload hardware hassio "
    "image_processing infrared intent media_source network radio_frequency ssdp stream stt tts usb wake_word zeroconf"
)
#: Needs a compiler and does nothing here.
UNUSED = ("hass-nabucasa", "pymicro-vad", "pyspeex-noise")


def wanted() -> list[str]:
    """Return requirements of every component that this release has, and of those they stand on."""
    base, found, seen, open_ = Path(components.__path__[0]), set(), set(), USED.split()
    while open_:
        name = open_.pop()
        manifest = base / name / "manifest.json"
        if name in seen or not manifest.exists():
            continue
        seen.add(name)
        told = json.loads(manifest.read_text())
        found |= {one for one in told.get("requirements", ()) if not one.lower().startswith(UNUSED)}
        open_ += told.get("dependencies", ())
    pinned = (base.parent / "package_constraints.txt").read_text().splitlines()
    return sorted(found | {line for line in pinned if line.startswith("numpy==")})


if __name__ == "__main__":
    print("\n".join(wanted()))
