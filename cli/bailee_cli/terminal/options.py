"""Options and kinds of arguments that many verbs share, and how what is typed for them is read."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from bailee.errors import BadNumber, BaileeError
from bailee_cli.device.session import Session

if TYPE_CHECKING:
    from datetime import date

    from bailee.domain.moments import Moment
    from bailee.domain.numbers import Kind


F = TypeVar("F", bound=Callable[..., Any])

NOTHING_SIGNED: Final = "Nothing was signed."
_GROUP: Final = 4
"""Characters between two spaces of a printed number."""
_WHOLE: Final = re.compile(r"-?[0-9]{1,9}")


class ReadNumber(str):
    """A number as stored, and whether somebody surely typed it instead of scanning it."""

    __slots__ = ("by_hand",)
    by_hand: bool

    @classmethod
    def of(cls, number: str, read_from: str) -> ReadNumber:
        """The number that was read from this text."""
        from bailee.asking import written

        found = cls(number)
        found.by_hand = written.is_by_hand(read_from)
        return found


class Number(click.ParamType[Any]):
    """A number from a label. A mistyped one is refused with the sentence that says what is wrong with it."""

    def __init__(self, kind: Kind | None = None, *, shows_hand: bool = False) -> None:
        self.kind = kind
        self.shows_hand = shows_hand
        self.name = kind or "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:  # noqa: ARG002
        """The stored form. Raises `BadNumber`."""
        from bailee.domain import numbers

        try:
            number = numbers.read(value, self.kind)
            return ReadNumber.of(number, value) if self.shows_hand else number
        except BadNumber as error:
            if error.facts.get("length") != _GROUP:
                raise
            # The shell has cut a number at its spaces, and this is the first group of it.
            raise BadNumber(
                f"{error.sentence} Typed with its spaces a number goes in quotes.", **error.facts
            ) from error


def until_read(read: Callable[[str], Any], text: str, *, asks: bool, what: str = "it") -> Any:
    """What a text means; where somebody can be asked, what they type instead of one that means nothing, told
    `what` it is.

    Of several that may be meant, such as time zones or organizations, they choose by number. Raises what
    `read` raises. Ends the command with 1 for a no.
    """
    while True:
        try:
            return read(text)
        except BaileeError as error:
            if not (asks and at_a_terminal()):
                raise
            from bailee_cli.terminal import layout, yes_no

            layout.warn(error.sentence)
            may = may_mean(error)
            ask = f"Which, or type {what} again" if may else f"Type {what} again"
            text = str(click.prompt(f"{ask}; or n", err=True)).strip()
            if yes_no.means(text) is False:
                layout.warn(NOTHING_SIGNED)
                raise click.exceptions.Exit(1) from None
            text = chosen(text, may)


def may_mean(error: BaileeError) -> list[str]:
    """What a text that was refused may mean, such as time zones or organizations: shown, each with its
    number.
    """
    found = [str(each) for each in error.facts.get("candidates") or error.facts.get("nearest", ())]
    for number, each in enumerate(found, 1):
        click.echo(f"  {number}  {each}", err=True)
    return found


def chosen(text: str, may: Sequence[str]) -> str:
    """What a number among those shown stands for; any other text is itself."""
    said = text.strip()
    return may[int(said) - 1] if said.isdecimal() and 1 <= int(said) <= len(may) else text


class Whole(click.ParamType[Any]):
    """A whole number, at least and at most so much.

    Another one is answered with what may be written, and may be asked for once more.
    """

    def __init__(self, least: int | None = None, most: int | None = None) -> None:
        self.least = least
        self.most = most
        self.name = "number" if most is None else f"{least}-{most}"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """The number."""
        text = str(value).strip()
        number = int(text) if _WHOLE.fullmatch(text) else None
        if number is None or not self._has(number):
            self.fail(f"{text!r} will not do: write a whole number{self._range}.", param, ctx)
        return number

    def _has(self, number: int) -> bool:
        return (self.least is None or number >= self.least) and (self.most is None or number <= self.most)

    @property
    def _range(self) -> str:
        if self.most is not None:
            return f" from {self.least} to {self.most}"
        return "" if self.least is None else f" of at least {self.least}"


class Written(click.ParamType[Any]):
    """A value as people write it, read by one of the readers of `bailee.asking`, named like it."""

    def __init__(self, reader: str) -> None:
        self.name = reader

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ARG002
        """What a statement takes. Raises `Malformed`."""
        from bailee.asking import reading

        if not isinstance(value, str):
            return value
        asks = ctx is not None and not (isinstance(ctx.obj, Session) and ctx.obj.json)
        return until_read(reading.by_name(self.name), value, asks=asks)


def json_option(function: F) -> F:
    """`--json` after a verb, the same as before it."""

    def turn_on(ctx: click.Context, _param: click.Parameter, value: bool) -> None:
        if value:
            ctx.obj.json = True

    return click.option(
        "--json",
        "as_json",
        is_flag=True,
        is_eager=True,
        expose_value=False,
        callback=turn_on,
        help="Answer in JSON, for programs.",
    )(function)


def act_options(function: F) -> F:
    """What every act takes: `--offline`, `--both` and `--json`."""

    def sign_both(ctx: click.Context, _param: click.Parameter, value: bool) -> None:
        ctx.obj.both = value

    both = click.option(
        "--both",
        is_flag=True,
        expose_value=False,
        callback=sign_both,
        help="Sign it although this device has signed an entry of the same thing already.",
    )
    offline = click.option("--offline", is_flag=True, help="Sign now and save it here; send later.")
    return json_option(offline(both(function)))


def anyway_option(function: F) -> F:
    """`--anyway`, for verbs that ask back what is surely a slip."""

    def sign_anyway(ctx: click.Context, _param: click.Parameter, value: bool) -> None:
        ctx.obj.anyway = value

    return click.option(
        "--anyway",
        is_flag=True,
        expose_value=False,
        callback=sign_anyway,
        help="Sign it although it looks like a slip.",
    )(function)


def yes_option(function: F) -> F:
    """`--yes`, for what is asked about before it is signed: the same for all of them."""
    return click.option(
        "--yes", is_flag=True, help="Sign without asking once more; warnings are acknowledged."
    )(function)


def note_option(function: F) -> F:
    """`--note`: what else there is to say of an act."""
    return click.option("--note", help="Free text; kept out of the log.")(function)


def one_form_option(function: F) -> F:
    """`--form`, of what is on one form alone: without a network nothing looks it up."""
    return click.option(
        "--form", "form", type=Number("form"), help="All are on this form (needed with --offline)."
    )(function)


def time_options(function: F) -> F:
    """`--at` and `--zone`."""
    decorated = click.option(
        "--zone",
        type=Written("zone"),
        help=(
            "Time zone of the clock you read, like America/New_York.  [default: the visit's, or this"
            " device's]"
        ),
    )(function)
    return click.option(
        "--at", help='When it happened: "2026-11-25 14:00", or "14:00" for today.  [default: now]'
    )(decorated)


def moment(session: Session, text: str | None, zone: str | None) -> Moment:
    """A moment as a person says it: a full time with offset, a local time, or a time of today. None is now.

    `zone` names the clock; without it this device's own clock is meant. What one text meant stands for the
    whole command: what was typed instead of a wrong one is not asked for again. Raises `BadMoment`.
    """
    from datetime import datetime, timedelta

    from bailee.domain.moments import Moment

    here = session.now.astimezone()
    now = (
        Moment.shown_in(session.now, zone)
        if zone
        else Moment(session.now, (here.utcoffset() or timedelta()) // timedelta(minutes=1))
    )
    if text is None:
        return now
    from bailee.asking import written_times

    def read(typed: str) -> Moment:
        said, letters = written_times.clock_letters(typed)
        if letters:
            said = f"{written_times.local(said, _today(session, letters)).replace('T', ' ')} {letters}"
        if re.search(r"[0-9]([Zz]| ?[+-][0-9]{2}:[0-9]{2})$", said):
            return Moment.parse(_with_offset(said))
        said = written_times.local(said, now.local_date)
        if zone:
            return Moment.in_zone(said, zone)
        local = datetime.fromisoformat(said).astimezone()
        return Moment(local, (local.utcoffset() or timedelta()) // timedelta(minutes=1))

    if (text, zone) not in session.moments:
        session.moments[text, zone] = until_read(read, text, asks=not session.json)
    found: Moment = session.moments[text, zone]
    return found


def _today(session: Session, offset: str) -> date:
    """The day it is on a clock with this offset."""
    from bailee.domain.moments import Moment

    return Moment.of(int(session.now.timestamp()), offset).local_date


def _with_offset(text: str) -> str:
    """`2026-11-25 14:00 -05:00` as RFC 3339 writes it: with a T, and with seconds."""
    found = re.fullmatch(r"(\S+)[ Tt]([0-9:.]+?) ?([Zz]|[+-][0-9]{2}:[0-9]{2})", text)
    if found is None:
        return text
    day, at, offset = found.groups()
    return f"{day}T{at if at.count(':') == 2 else f'{at}:00'}{offset}"


def at_a_terminal() -> bool:
    """Whether somebody is there to be asked for what may be left out."""
    return sys.stdin.isatty()


def present(values: Mapping[str, Any]) -> dict[str, Any]:
    """Without what was not said."""
    return {name: value for name, value in values.items() if value is not None and value != ()}
