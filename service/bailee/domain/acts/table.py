"""Every act, one row each: who may say it, when it was done, what it is about, and what follows.

What the columns mean says `row.Row`. Whoever wants to know such a thing of an act asks its row. What an act
moves says the fold of its chain (`forms`, `lots`, `organizations`), what may be said in it its class.
"""

from __future__ import annotations

from datetime import timedelta
from types import MappingProxyType
from typing import Final

from bailee.domain.acts import form, lot, mentions, organization, privacy, surface
from bailee.domain.acts.row import (
    ADMINISTRATION,
    ANYBODY,
    DECIDERS,
    HOLDERS,
    LABORATORY,
    MEDIA,
    PACKERS,
    QUALITY,
    SIGNERS,
    ChainKind,
    Row,
)
from bailee.domain.facts import Facts
from bailee.domain.moments import Moment

ACCEPTED: Final = "accepted"
ON_HOLD: Final = "on_hold"
REJECTED: Final = "rejected"

_AT_THE_PUMP: Final = frozenset(
    {
        "kind", "started", "stopped", "run_s", "pump_stop", "timer_stop", "short_run", "flow_before",
        "flow_after", "flow_corrected", "volume_l", "pump", "meter", "temperature_c", "pressure_hpa",
        "covers_on", "room", "point", "unit", "space", "area", "near", "near_m", "height_m", "distance_m",
        "gps_distance_m", "weather", "dust", "aggressive",
    }
)  # fmt: skip
"""Flow, times, place. Lot, label and serial can be read off later."""
_AT_THE_SURFACE: Final = frozenset(surface.SurfaceCollected.keys) - {
    "sample",
    "lot",
    "entered",
    "label_on",
    "photo",
}

# fmt: off
_FORM: Final = (
    Row("opened", "form", form.Opened, frozenset({"inspector", "clerk", "quality", "admin"}), opens=True,
        again="clashes", admits=lambda body, _org: {body.parties.firm, body.parties.lab},
        signed="I opened this form for the visit"),
    Row("collected", "form", form.Collected, frozenset({"inspector"}), physical=True, time="started",
        lasts="run_s", other_times=("stopped",), about=("sample",), again="once", seen=_AT_THE_PUMP,
        mentions=mentions.collected, signed="I collected these samples as written here",
        step=("sampling", "active")),
    Row("surface_collected", "form", surface.SurfaceCollected, frozenset({"inspector"}), physical=True,
        time="at", about=("sample",), again="once", seen=_AT_THE_SURFACE,
        mentions=mentions.surface_collected, signed="I collected these samples from surfaces as written here",
        step=("sampling", "active")),
    Row("pump_checked", "form", form.PumpChecked, frozenset({"inspector", "media_keeper"}), physical=True,
        other_times=("at",), seen=frozenset(form.PumpChecked.keys),
        signed="I checked the flow of this pump as written here"),
    Row("outdoor_ruled_out", "form", form.OutdoorRuledOut, frozenset({"inspector"}), physical=True,
        other_times=("at",), seen=frozenset(form.OutdoorRuledOut.keys),
        signed="No outdoor control could be collected here, for the reason given"),
    Row("conditions_read", "form", form.ConditionsRead, frozenset({"inspector"}), physical=True,
        other_times=("at",), seen=frozenset(form.ConditionsRead.keys),
        signed="I read these conditions here as written"),
    Row("building_changed", "form", form.BuildingChanged, frozenset({"inspector"}), physical=True,
        other_times=("at",), seen=frozenset(form.BuildingChanged.keys),
        signed="I noticed this change in the building while samples were collected"),
    Row("held", "form", form.Held, HOLDERS, physical=True, time="since", other_times=("until",),
        about=("samples",), signed="I secured these samples as written here", does="signs for",
        step=("storing",)),
    Row("relinquished", "form", form.Relinquished, HOLDERS, physical=True, time="at", about=("samples",),
        again="answered", undone_by=("received",), signed="I relinquished these samples to the receiver",
        does="relinquishes", step=("consigning", "in_progress")),
    Row("received", "form", form.Received, HOLDERS, physical=True, time="at",
        about=("dock.envelope", "items.sample"), again="clashes",
        undone_by=("relinquished", "forwarded", "shipped"), mentions=mentions.docked,
        signed="I received these samples", step=("receiving", "in_progress")),
    Row("taken_in", "form", form.TakenIn, LABORATORY | {"clerk"}, physical=True, time="at",
        about=("envelope",), again="clashes", undone_by=("shipped",), mentions=mentions.taken_in,
        signed="I received this envelope and did not open it", does="takes in",
        step=("arriving", "in_progress")),
    Row("sealed", "form", form.Sealed, PACKERS, physical=True, time="at",
        computed=("findings", "policy", "lab_policy"), about=("samples", "envelope"), again="clashes",
        undone_by=("unsealed",), mentions=mentions.sealed,
        signed="I packed, counted and sealed this envelope", step=("packing", "container_closed")),
    Row("unsealed", "form", form.Unsealed, HOLDERS, physical=True, time="at", about=("envelope",),
        again="clashes", undone_by=("sealed",), signed="I opened this sealed envelope",
        step=("unpacking", "container_open")),
    Row("shipped", "form", form.Shipped, PACKERS, physical=True, time="handed_over", about=("envelope",),
        again="once", computed=("expected_delivery", "expected_receipt"), undone_by=("unsealed", "received"),
        mentions=mentions.shipped, signed="I shipped this envelope as written here", does="ships",
        step=("shipping", "in_transit")),
    Row(ACCEPTED, "form", form.Decision, DECIDERS, time="at", about=("samples",), again="clashes",
        undone_by=(ON_HOLD, REJECTED), is_decision=True, mentions=mentions.decided,
        signed="I accept these samples for analysis", step=("accepting", "conformant")),
    Row(ON_HOLD, "form", form.Decision, DECIDERS, time="at", about=("samples",), again="clashes",
        undone_by=(ACCEPTED, REJECTED), is_decision=True, mentions=mentions.decided,
        signed="I put these samples on hold until there is a decision", step=("holding", "unavailable")),
    Row(REJECTED, "form", form.Decision, DECIDERS, time="at", about=("samples",), again="clashes",
        undone_by=(ACCEPTED, ON_HOLD), is_decision=True, mentions=mentions.decided,
        signed="I reject these samples", step=("inspecting", "non_conformant")),
    Row("lab_numbered", "form", form.LabNumbered, DECIDERS, other_times=("at",),
        mentions=mentions.lab_numbered, signed="These are the numbers of these samples in our laboratory"),
    Row("stored", "form", form.Stored, LABORATORY, physical=True, time="at", about=("samples",),
        signed="I put these samples into this store", does="stores", step=("storing",)),
    Row("withdrawn", "form", form.Withdrawn, LABORATORY, physical=True, time="at", about=("samples",),
        signed="I took these samples out of this store", does="withdraws", step=("picking",)),
    Row("requested", "form", form.Requested, frozenset({"inspector", "clerk", "quality", "admin"}),
        mentions=mentions.requested, signed="This is what we ask the laboratory for"),
    Row("voided", "form", form.Voided, frozenset({"inspector", "custodian", "quality"}), physical=True,
        about=("sample",), again="once", mentions=mentions.voided, signed="This sample will not be analyzed",
        step=("decommissioning", "inactive")),
    Row("corrected", "form", form.Corrected, SIGNERS, about=("statement+field",), again="clashes",
        mentions=mentions.corrected, fixed="a correction is not corrected: correct the first entry again",
        signed="The earlier entry should read like this"),
    Row("excepted", "form", form.Excepted, frozenset({"quality", "admin", "inspector", "clerk"}),
        about=("rule+about",),
        fixed="an exception is not corrected: sign another one",
        signed="I allow this finding to stand, for the reason given"),
    Row("affirmed", "form", form.Affirmed, SIGNERS, physical=True,
        fixed="an affirmation is not corrected: affirm the other entry",
        signed="These earlier entries are mine"),
    Row("witnessed", "form", form.Witnessed, SIGNERS, physical=True,
        fixed="a witness entry is not corrected: the witness signs another one",
        signed="I watched what these entries record"),
    Row("erased", "form", privacy.Erased, QUALITY, erases=True, mentions=mentions.erased,
        fixed="what was erased is not corrected",
        signed="Private fields of an earlier entry were erased for good"),
    Row("retention_held", "form", privacy.RetentionHeld, QUALITY, undone_by=("retention_released",),
        mentions=mentions.held, fixed="a retention is not corrected: release it",
        signed="The private fields of this form must stay"),
    Row("retention_released", "form", privacy.RetentionReleased, QUALITY, undone_by=("retention_held",),
        fixed="a release is not corrected: hold again",
        signed="We no longer ask that the private fields of this form stay"),
    Row("copied", "form", form.Copied, HOLDERS, about=("of+reference+version",), again="once",
        grows=("entries",),
        signed="I issued this version; it replaces those before it"),
    Row("notified", "form", form.Notified, SIGNERS, other_times=("at",), about=("of+about+to",),
        signed="I notified them of this"),
    Row("disposed", "form", form.Disposed, LABORATORY, physical=True, time="at", about=("samples",),
        again="clashes", signed="Custody of these samples ends here", step=("destroying", "destroyed")),
    Row("forwarded", "form", form.Forwarded, LABORATORY, physical=True, time="at", about=("items.sample",),
        again="clashes", mentions=mentions.forwarded, admits=lambda body, _org: {body.to}, does="forwards",
        signed="I forwarded these samples under new numbers, each undivided",
        step=("shipping", "in_transit")),
)
_LOT: Final = (
    Row("lot_erased", "lot", privacy.Erased, QUALITY, erases=True),
    Row("lot_received", "lot", lot.LotReceived, MEDIA, opens=True, again="clashes",
        admits=lambda _body, org: {org}),
    Row("issued", "lot", lot.Issued, MEDIA, drawn=("samples",), mentions=mentions.issued),
    Row("recalled", "lot", lot.Recalled, MEDIA, undone_by=("released",)),
    Row("released", "lot", lot.Released, QUALITY, undone_by=("recalled",)),
    Row("counted", "lot", lot.Counted, MEDIA),
    Row("expiry_corrected", "lot", lot.ExpiryCorrected, MEDIA),
)
_ORGANIZATION: Final = (
    Row("person_erased", "org", privacy.Erased, QUALITY, erases=True),
    Row("founded", "org", organization.Founded, frozenset({"root"}), opens=True, brings_key="jwk"),
    Row("enrolled", "org", organization.Enrolled, ADMINISTRATION, about=("kid",)),
    Row("revoked", "org", organization.Revoked, ADMINISTRATION, other_times=("since",), about=("kid",),
        again="clashes"),
    Row("rotated", "org", organization.Rotated, ANYBODY, about=("kid",), again="clashes"),
    Row("recovered", "org", organization.Recovered, frozenset({"root"}), other_times=("since",),
        brings_key="recovery_jwk"),
    Row("endorsed", "org", organization.Endorsed, ADMINISTRATION, about=("org",)),
    Row("policy_set", "org", organization.PolicySet, QUALITY),
    Row("calendar_set", "org", organization.CalendarSet, QUALITY | {"custodian", "clerk"},
        about=("which+carrier",)),
    Row("equipment_set", "org", organization.EquipmentSet, MEDIA, about=("kind+id",)),
    Row("trained", "org", organization.Trained, QUALITY),
    Row("licensing_set", "org", organization.LicensingSet, QUALITY),
)
# fmt: on

ROWS: Final = MappingProxyType({row.name: row for row in (*_FORM, *_LOT, *_ORGANIZATION)})
"""Every act by its name."""

ON_CHAIN: Final = MappingProxyType(
    {
        kind: MappingProxyType({row.name: row for row in rows})
        for kind, rows in dict[ChainKind, tuple[Row, ...]](form=_FORM, lot=_LOT, org=_ORGANIZATION).items()
    }
)
"""By kind of chain the acts on it, by name."""

OPENING: Final = MappingProxyType(
    {kind: next(row for row in rows.values() if row.opens) for kind, rows in ON_CHAIN.items()}
)
"""The act that must come first on a chain of each kind, and only first."""

ERASING: Final = MappingProxyType(
    {kind: next(row for row in rows.values() if row.erases) for kind, rows in ON_CHAIN.items()}
)
"""The act that tells, on a chain of each kind, of private fields that are gone."""

_BY_FACTS: Final[dict[type[Facts], Row]] = {row.facts: row for row in reversed(list(ROWS.values()))}


def name_of(facts: type[Facts]) -> str:
    """The name of the act that says these facts, the first of several."""
    return _BY_FACTS[facts].name


def done_at(body: Facts) -> Moment | None:
    """When an act was done by the word of its signer (a run: when it ended); None for what is only said."""
    row = _BY_FACTS[type(body)]
    if not row.done:
        return None
    at: Moment = getattr(body, row.done)
    return at.moved(timedelta(seconds=getattr(body, row.lasts))) if row.lasts else at
