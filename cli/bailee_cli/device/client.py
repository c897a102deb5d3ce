"""Speaking HTTP with the service. Its problems (RFC 9457) become our errors, with the same sentence."""

from __future__ import annotations

import re
import traceback
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from bailee.domain.moments import clock_words
from bailee.errors import BaileeError, Broken, Forged, Malformed, Unavailable, Unknown

_ADDRESS: Final = re.compile(r"https?://[^/\s]", re.IGNORECASE)
_CONNECT_S: Final = 5
_ANSWER_S: Final = 30
CLOCK_WORTH_SAYING_S: Final = 60
KEY_ENDED: Final = "revoked-key"
TOKEN_AHEAD_S: Final = 2 * 24 * 3600
"""So far at most a token is dated ahead of this device: who answers in the service's place would else be
given one that is valid next year."""
_MOST_SKEW_S: Final = 10**10
_UNAUTHORIZED: Final = 401
_BY_STATUS: Final[dict[int, type[BaileeError]]] = {
    400: Malformed,
    401: Forged,
    403: Forged,
    404: Unknown,
    405: Malformed,
    409: Forged,
    429: Unavailable,
    413: Malformed,
    415: Malformed,
    422: Malformed,
}


class LedgerClient:
    """One service.

    `token` makes a fresh access token for every question; without it only public questions are answered.
    `clock` is that of this device: `skew` is by how many seconds the service's was ahead of it at the newest
    answer, None before any.
    """

    def __init__(
        self,
        address: str,
        *,
        transport: Any = None,
        token: Callable[[], str] | None = None,
        clock: Callable[[], datetime] | None = None,
    ) -> None:
        try:
            import httpx2
        except ImportError as error:
            raise Unavailable(
                "To reach a service, in the checkout: pip install '.[client]'.", code="no-client"
            ) from error
        if not _ADDRESS.match(address):
            raise Malformed(
                f"{address!r} is no address of a service: write it with http:// or https:// in front.",
                code="bad-address",
            )
        self.address = address
        self._token = token
        self._clock = clock
        self.skew: int | None = None
        self._lost = httpx2.HTTPError
        self._down: Unavailable | None = None
        self.has_told = False
        self.ended = ""  # what it said of the end of the key that asks
        try:
            self._http = httpx2.Client(
                base_url=address, transport=transport, verify=_authorities(address),
                timeout=httpx2.Timeout(_ANSWER_S, connect=_CONNECT_S),
            )  # fmt: skip
        except OSError as error:  # of no file but this one
            raise Unavailable(
                "The file of authorities that SSL_CERT_FILE names cannot be read: correct it.",
                code="bad-authorities",
            ) from error
        except (httpx2.InvalidURL, ValueError) as error:
            raise Malformed(f"{address!r} is no address of a service.", code="bad-address") from error

    def close(self) -> None:
        """Close the connection."""
        self._http.close()

    def get(self, path: str, **query: Any) -> Any:
        """A JSON answer."""
        return self._json(self._ask("GET", path, query))

    def get_bytes(self, path: str, media: str, **query: Any) -> bytes:
        """An answer as it came, which must be of this media type: a document, a picture, a checkpoint."""
        answer = self._ask("GET", path, query)
        if not answer.headers.get("Content-Type", "").startswith(media):
            raise self._not_a_ledger()
        content: bytes = answer.content
        return content

    def post(self, path: str, body: Mapping[str, Any]) -> Any:
        """Send JSON, get JSON."""
        return self._json(self._ask("POST", path, {}, body))

    def _answer(
        self, method: str, path: str, query: Mapping[str, Any], body: Mapping[str, Any] | None
    ) -> Any:
        headers = {"Authorization": f"Bearer {self._token()}"} if self._token else {}
        answer = self._http.request(method, path, params=query, json=body, headers=headers)
        found = skew_of(answer.headers, self._clock()) if self._clock else None
        self.skew = self.skew if found is None else found
        return answer

    def _json(self, answer: Any) -> Any:
        try:
            told = answer.json()
        except (ValueError, RecursionError) as error:
            raise self._not_a_ledger() from error
        self.has_told = True
        return told

    def _not_a_ledger(self) -> Unavailable:
        return Unavailable(
            f"What answered at {self.address} is no ledger: perhaps this network wants you to sign in first."
            " Nothing is lost.",
            code="not-a-ledger",
        )

    def _ask(
        self, method: str, path: str, query: Mapping[str, Any], body: Mapping[str, Any] | None = None
    ) -> Any:
        if self._down:
            raise self._down  # one wait for a network that is not there is enough for one command
        wanted = {name: _in_query(value) for name, value in query.items() if value is not None}
        try:
            answer = self._answer(method, path, wanted, body)
            skew = self.skew or 0
            is_worth = abs(skew) >= CLOCK_WORTH_SAYING_S and skew <= TOKEN_AHEAD_S
            if answer.status_code == _UNAUTHORIZED and is_worth:
                answer = self._answer(method, path, wanted, body)  # with a token of the service's time
        except self._lost as error:
            self._down = Unavailable(
                f"The certificate of {self.address} is not trusted here. If its operator has an authority of"
                " their own, set SSL_CERT_FILE to the file of its root; else call them."
                if "CERTIFICATE_VERIFY_FAILED" in str(error)
                else f"The service at {self.address} did not answer ({type(error).__name__}). Check the"
                " network and try again.",
                code="unreachable",
            )
            raise self._down from error
        except ValueError as error:
            raise Malformed(f"{self.address!r} is no address of a service.", code="bad-address") from error
        if answer.status_code >= 300:
            refused = problem(answer.status_code, _json_of(answer))
            self.ended = refused.sentence if refused.code == KEY_ENDED else self.ended
            raise refused
        return answer


def _authorities(address: str) -> Any:
    """Whose certificates count: this machine's authorities, which take 20 ms to read.

    Nobody's at an address without TLS, unless a proxy, which may speak it, comes in between.
    """
    import ssl
    from urllib.request import getproxies

    is_plain = address.lower().startswith("http://") and not getproxies()
    return ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT) if is_plain else True


def skew_of(told: Mapping[str, Any], now: datetime) -> int | None:
    """By how many seconds the service's clock is ahead, by the headers of an answer, if they say."""
    try:
        found = round((datetime.fromisoformat(told["Ledger-Time"]) - now).total_seconds())
    except (KeyError, TypeError, ValueError):
        return None
    return found if abs(found) <= _MOST_SKEW_S else None


MISREAD: Final = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError)
"""What reading an answer of another shape ends in: a member that is not there, a list or a number in the
place of a text."""


def foreign_answer(address: str, error: Exception) -> Unavailable:
    """Our error for an answer that a command could not read, with the place where, should it be the command
    that errs.
    """
    at = traceback.extract_tb(error.__traceback__)[-1]
    return Unavailable(
        f"The service at {address} does not answer like a Bailee service of this version: check its address,"
        f" and ask its operator which version runs there ({type(error).__name__} in {Path(at.filename).name},"
        f" line {at.lineno}).",
        code="foreign-answer",
        service=address,
    )


def problem(status: int, told: Mapping[str, Any]) -> BaileeError:
    """Our error for a problem answer."""
    if status >= 500 or not told.get("detail"):
        kind: type[BaileeError] = Unavailable
        said = (
            told.get("detail")
            or f"The service answered {status} without a reason: try again, or ask its operator."
        )
    else:
        kind, said = _BY_STATUS.get(status, Broken), told["detail"]
    facts = {
        name: value
        for name, value in told.items()
        if name not in ("type", "title", "status", "detail", "code")
    }
    code = told.get("code")
    error = kind(str(said), code=code if isinstance(code, str) else "unavailable")
    error.facts.update(facts)  # whatever they are called: who answers may be no ledger
    return error


def clock_sentence(skew: int, asked: str = "") -> str:
    """How wrong this device's clock is, when that is worth saying; otherwise nothing.

    `asked`: when the service's clock was compared, if that was not now.
    """
    if abs(skew) < CLOCK_WORTH_SAYING_S:
        return ""
    since = f" when it last answered ({asked})" if asked else ""
    return (
        f"The clock of this device {'was' if asked else 'is'} {clock_words(skew)}{since}, by the service's."
        " Set it by the network before you sign; each entry records the difference."
    )


def _in_query(value: Any) -> Any:
    return str(value).lower() if isinstance(value, bool) else value


def _json_of(answer: Any) -> Mapping[str, Any]:
    try:
        told = answer.json()
    except (ValueError, RecursionError):
        return {}
    return told if isinstance(told, Mapping) else {}
