"""Thresholds of the rules, with their defaults. An organisation signs its own values into its chain (`policy_set`).

Units stand in the names: _h hours, _min minutes, _s seconds, _m metres, _pct per cent, _lpm litres a minute, _l litres, _days.
Every default is common practice with no source unless a comment names one; none is a legal limit. In particular no
source gives a holding time for spore traps.
"""

from __future__ import annotations

import hashlib
import json
from base64 import urlsafe_b64encode
from collections.abc import Mapping
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from bailee.domain.fields import decimal_of
from bailee.errors import BadStatement

Threshold = Annotated[
    Decimal, BeforeValidator(lambda v: v if isinstance(v, Decimal) else decimal_of(v)), Field(ge=0)
]
Whole = Annotated[int, Field(ge=0, le=1_000_000)]


class Policy(BaseModel):
    """One organisation's thresholds. Decimals are text in the signed form; unknown names are refused."""

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", defer_build=True)

    min_cassettes: Whole = 3
    min_indoor: Whole = 2
    min_outdoor: Whole = 1
    outdoor_gap_min: Whole = 120
    outdoor_gap_block: bool = True
    outdoor_distance_m: Threshold = Decimal("3.048")
    height_min_m: Threshold = Decimal("0.9144")
    height_max_m: Threshold = Decimal("1.8288")
    length_tolerance_m: Threshold = Decimal("0.01")
    flow_tolerance_pct: Threshold = Decimal(5)
    drift_warn_pct: Threshold = Decimal(5)
    drift_block_pct: Threshold = Decimal(10)
    run_tolerance_s: Whole = 5
    run_warn_pct: Threshold = Decimal(10)
    preparation_h: Threshold = Decimal(24)
    expiry_grace_days: Whole = 0
    expiry_near_days: Whole = 30
    same_lot_wanted: bool = True
    typed_warn_pct: Threshold = Decimal(20)
    hand_over_warn_min: Whole = 15
    hand_over_break_min: Whole = 60
    unsecured_h: Threshold = Decimal(2)
    unsecured_block_h: Threshold = Decimal(12)
    clock_warn_s: Whole = 120
    clock_flag_s: Whole = 900
    late_note_min: Whole = 30
    late_warn_h: Threshold = Decimal(24)
    hold_warn_h: Threshold = Decimal(72)
    hold_block_h: Threshold = Decimal(168)
    receipt_lag_h: Threshold = Decimal(4)
    tracking_required: bool = True
    record_enclosed_required: bool = True

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> Policy:
        """Read signed values. Raises `BadStatement` naming every bad member."""
        try:
            return cls.model_validate(dict(data))
        except ValidationError as error:
            faults = [
                {
                    "at": "/data/policy/" + "/".join(str(step) for step in fault["loc"]),
                    "says": fault["msg"].removeprefix("Value error, "),
                }
                for fault in error.errors(include_url=False, include_context=False, include_input=False)
            ]
            listed = "; ".join(f"{fault['at'].rsplit('/', 1)[-1]}: {fault['says']}" for fault in faults)
            raise BadStatement(f"This policy cannot be used: {listed}.", errors=faults) from error

    def to_data(self) -> dict[str, Any]:
        """All values in signed form."""
        return {
            name: str(value) if isinstance(value, Decimal) else value
            for name, value in self.model_dump().items()
        }

    @property
    def digest(self) -> str:
        """Base64url SHA-256 of the sorted JSON of all values: what `sealed` names, so a check can be replayed."""
        text = json.dumps(self.to_data(), sort_keys=True, separators=(",", ":"))
        return urlsafe_b64encode(hashlib.sha256(text.encode()).digest()).decode().rstrip("=")
