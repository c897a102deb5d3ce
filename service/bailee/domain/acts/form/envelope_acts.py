"""What is said of an envelope: sealed, opened again, shipped."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import field
from typing import Annotated, Literal

from bailee.domain.acts.form.attachments import OnPaper, Photo
from bailee.domain.acts.form.custody_acts import (
    Acknowledged,
)
from bailee.domain.facts import Facts, between, sized
from bailee.domain.fields import (
    At,
    Celsius,
    Count,
    Digest,
    EachOnce,
    EnvelopeNumber,
    FormNumber,
    OrganizationId,
    Samples,
    SealAsRead,
    SealNumber,
    Tag,
)  # fmt: skip

Transport = Literal["not_regulated", "excepted", "regulated"]


class Sealed(Facts, later=("seal", "count", "total", "forms")):
    """This form's part of an envelope, under a numbered custody seal; `total` counts the whole envelope.

    `policy` is the digest of the firm's thresholds then, `lab_policy` that of the limits its laboratory had
    stated, if any. `record_pages` is how many pages of the custody record were put in, `containers` how many
    bags or boxes it goes in, none if nobody counted, `photo` a picture of the closed envelope.
    """

    envelope: EnvelopeNumber
    seal: SealNumber
    samples: Samples
    count: Count
    total: Count
    forms: Annotated[list[FormNumber], sized(1, 50), EachOnce]
    at: At
    across_opening: bool
    record_enclosed: bool
    plain_tape: bool = False
    record_pages: Count | None = None
    containers: Count | None = None
    photo: Photo | None = None
    policy: Digest | None = None
    lab_policy: Digest | None = None
    findings: list[Acknowledged] = field(default_factory=list)
    paper: OnPaper | None = None


class Unsealed(Facts):
    """Opened again before or after transport, by whoever holds it. Private: note."""

    envelope: EnvelopeNumber
    seal: SealAsRead
    reason: Literal["add_sample", "remove_sample", "wrong_seal", "damage", "inspection", "other"]
    at: At
    paper: OnPaper | None = None


class Courier(Facts):
    """Who carries an envelope by hand, and signs nothing here. Private: courier_name, courier_phone.

    `named` says that the name was told, without telling it; `kid` is the key of whoever has one. `id_seen`:
    whether an identity document was looked at. `slip` is the number of the receipt slip that was signed in
    ink, `slip_photo` a picture of it.
    """

    relation: Literal["employee", "client", "lab_driver", "hired", "other"]
    org: OrganizationId | None = None
    kid: Digest | None = None
    named: bool = False
    id_seen: bool | None = None
    slip: Tag | None = None
    slip_photo: Photo | None = None


class Shipped(Facts):
    """Handed to a carrier, or carried by hand (`by_hand`) by its `courier`: then no tracking number is
    expected.

    What is carried by hand arrives when whoever carries it expects to: `expected_delivery` is their word, of
    a carrier it is reckoned from the calendars. `classified` is what the shipper decided about the transport
    class; the forecast is that of the way, in degrees Celsius.
    """

    envelope: EnvelopeNumber
    carrier: Tag
    service: Tag
    service_days: Annotated[int, between(0, 30)]
    saturday: bool = False
    by_hand: bool = False
    courier: Courier | None = None
    tracking: Tag | None = None
    handed_over: At
    expected_delivery: At | None = None
    expected_receipt: At | None = None
    classified: Transport | None = None
    forecast_low_c: Celsius | None = None
    forecast_high_c: Celsius | None = None
    paper: OnPaper | None = None

    def contradictions(self) -> Iterator[str]:
        """A courier of what a carrier takes."""
        if self.courier is not None and not self.by_hand:
            yield "courier is who carries it by hand: set by_hand true, or leave courier out"
