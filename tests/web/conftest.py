"""A ledger with a faultless visit, one without an outdoor control and one with a broken seal.

And a browser before it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from bailee.signing import access
from field import Field, make_home
from grounds import migrated
from hosts.listening import listening


@dataclass
class Town:
    """The application, where it answers, and the numbers of what happened in it."""

    field: Field
    url: str
    faultless: str
    envelope: str
    samples: list[str]
    bare: str
    broken: str
    lot: str
    announced: str

    def token(self, who: str = "clerk") -> str:
        """A token, as `bailee pages` puts it behind the `#`."""
        device = self.field.people[who]
        return access.issue_for_pages(
            device.key, device.org, self.field.ledger.settings.origin, int(self.field.clock().timestamp())
        )


@pytest.fixture(scope="session")
def town(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Town]:
    """Played once; these pages write nothing."""
    home = tmp_path_factory.mktemp("web")
    url = migrated(home / "ledger.sqlite")
    field = Field(make_home(home / "home", url, address="http://127.0.0.1"))
    faultless, envelope, samples, _ = field.faultless()
    bare, _, _ = without_outdoor(field)
    lot, announced, broken = with_broken_seal(field)
    with listening(field.app) as address:
        yield Town(field, address, faultless, envelope, samples, bare, broken, lot, announced)
    field.ledger.database.close()


def without_outdoor(field: Field) -> tuple[str, str, list[str]]:
    """A visit in progress: two indoor samples, one of them cut short, and no outdoor control."""
    lot, samples = field.lot(4)
    form = field.open_form()
    field.collect(form, lot, samples[0])
    field.collect(form, lot, samples[1], run_s=200)
    return form, lot, samples


def with_broken_seal(field: Field) -> tuple[str, str, str]:
    """A visit whose envelope arrived with another seal and one cassette short.

    Its lot, an unused number, its form.
    """
    lot, samples = field.lot(5)
    form = field.open_form()
    for sample, kind in zip(samples, ("indoor", "indoor", "indoor", "outdoor"), strict=False):
        field.collect(form, lot, sample, kind)
    field.hand_to_clerk(form, samples[:4])
    envelope, seal = field.number("envelope"), field.number("seal")
    field.seal(envelope, samples[:4], seal)
    field.ship(envelope)
    field.clock.advance(hours=20)
    field.dock(form, envelope, samples[:3], "C-4712", seal_state="broken", package=["wet", "torn"], total=3)
    return lot, samples[4], form
