"""The zone of this device is offered where that of a site is asked (names: the IANA time zone database)."""

from __future__ import annotations

import pytest

from bailee_cli.terminal import time_zones


@pytest.mark.parametrize(
    ("set_to", "named"),
    [
        ("America/Denver", "America/Denver"),
        (":/usr/share/zoneinfo/America/Indiana/Knox", "America/Indiana/Knox"),
        ("Etc/UTC", None),
        ("EST5EDT", None),
        ("Invented/Lane", None),
    ],
)
def test_a_zone_of_an_area_and_city_is_offered(
    monkeypatch: pytest.MonkeyPatch, set_to: str, named: str | None
) -> None:
    """A visit would be timed by the clock of a server, or the zone that the laptop has be typed by hand."""
    monkeypatch.setenv("TZ", set_to)
    assert time_zones.of_device() == named
