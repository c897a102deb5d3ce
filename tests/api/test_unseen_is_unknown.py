"""What somebody may not see looks in every answer as if it were not there: same words, same headers, same
questions to the database.

Two ledgers are the same to a third organization. In one of them two others have made a visit; in the other
that visit never was. Every operation of the service is asked by the third about the numbers of that visit, on
both. An answer that differs tells who makes visits, where a sample lies, or that a number found on a label is
real (21 CFR 11.10(d): access limited to authorized individuals; the measure, byte for byte, is ours).
"""

from __future__ import annotations

import difflib
import re
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import pytest
from flask.testing import FlaskClient
from sqlalchemy import event

from bailee.domain.acts.table import ON_CHAIN, OPENING
from bailee.ledger import entry as entries
from bailee.signing import access, signed_statement
from domain.test_statements import LEAST
from field import ORIGIN, Device, Field, make_home
from grounds import migrated

THIRD = "third-party"
FOURTH = "fourth-lab"
AT = "2026-12-01T09:12:00-05:00"


LISTED: Final = re.compile(
    r"IN \((VALUES .*|\?(, \?)*|SELECT \?(, \?)* FROM \(SELECT \?(, \?)*\) WHERE \?!=\?)\)"
)
"""How many values one question names is left out: what counts is how many questions there are."""


@dataclass
class World:
    """A ledger, a browser that has entered as the third organization, and what its database was asked since
    `asked` was emptied.
    """

    field: Field
    browser: FlaskClient
    asked: list[str] = field(default_factory=list)

    def remember_organizations_alone(self) -> None:
        """Which of them was read before tells nothing but its name.

        What another test has read decides nothing here.
        """
        books = self.field.ledger.books
        books._lots.clear()
        with self.field.ledger.database.reading() as connection:
            for org in self.field.roots:
                books.organization(connection, org)

    def answer(self, call: Call, device: Device) -> tuple[Any, ...]:
        """Status, headers, body, and the questions to the database with their values left out."""
        client = self.browser if call.as_page else self.field.app.test_client()
        headers = {} if call.as_page or call.alone else device.bearer
        self.asked.clear()
        said = client.open(call.path, method=call.method, json=call.body, headers=headers)
        questions = [
            LISTED.sub("IN (?)", re.sub(r"'[^']*'|\b\d+\b|\(NULL\)", "?", each)) for each in self.asked
        ]
        return (
            said.status_code,
            sorted(each for each in said.headers.items() if each[0] != "Date"),  # of this machine's clock
            said.data,
            [re.sub(r"\?(, \?)+", "?", q) for q in questions],
        )


@dataclass
class Call:
    """One request; `alone`: without saying who asks."""

    method: str
    path: str
    body: Any = None
    as_page: bool = False
    alone: bool = False


@dataclass
class Two:
    """Both worlds, who asks, what is the asker's own, and the numbers of the visit that only
    the first has.
    """

    with_it: World
    without: World
    stranger: Device
    form: str
    lot: str
    samples: list[str]
    unseen: dict[str, list[str]]

    def differ(self, call: Call) -> str:
        """What tells the worlds apart; empty when nothing does."""
        self.without.field.clock.now = self.with_it.field.clock.now
        for world in (self.with_it, self.without):
            world.remember_organizations_alone()
        here, there = (world.answer(call, self.stranger) for world in (self.with_it, self.without))
        if here[:3] != there[:3]:
            return f"{here[:3]} != {there[:3]}"
        return "\n".join(
            difflib.unified_diff(here[3], there[3], "asked here", "asked there", n=1, lineterm="")
        )

    def same(self, call: Call) -> None:
        """Fail with what tells the worlds apart."""
        if differ := self.differ(call):
            pytest.fail(f"{call.method} {call.path} {call.body}\n{differ}")


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Two]:
    """One ledger with three organizations, copied; then the visit, in the first only."""
    folder = tmp_path_factory.mktemp("two")
    first = folder / "first.sqlite"
    before = Field(make_home(folder / "before", migrated(first)))
    stranger, form, lot, samples = _third_organization(before)
    before.ledger.database.close()
    shutil.copy(first, folder / "second.sqlite")
    worlds = []
    for name in ("first", "second"):
        shutil.copytree(folder / "before", folder / name)
        again = Field(make_home(folder / name, f"sqlite:///{folder / name}.sqlite"), start=False)
        again.people, again.roots, again._random = before.people, before.roots, before._random
        again.clock.now = before.clock.now
        worlds.append(again)
    for device in (*before.people.values(), *before.roots.values()):
        device.clock = worlds[0].clock
    with_it, without = worlds
    unseen = _visit(with_it)
    without.clock.now = with_it.clock.now
    for world in worlds:
        world.ledger.sequencer.integrate()
        with world.ledger.database.reading() as connection:
            world.ledger.guard.require(connection)
    made = [World(world, _entered(world, stranger)) for world in worlds]
    for world in made:
        _listen(world)
    yield Two(*made, stranger, form, lot, samples, unseen)
    for world in worlds:
        world.ledger.database.close()


def _third_organization(field: Field) -> tuple[Device, str, str, list[str]]:
    """Somebody else with everything of their own: key, lot, visit."""
    for org in (THIRD, FOURTH):
        root = field.roots[org] = field.device(f"{org} root", org)
        data = {"name": org.title(), "jwk": root.key.jwk, "recovery": None}
        field.ok(field.send(root.sign(f"org/{org}", "founded", data)), root)
    field.people["stranger"] = stranger = field.device("stranger", THIRD)
    field.enroll(stranger, "admin")
    lot, samples = field.lot(3, who="stranger")
    form = field.number("form")
    opened = {
        "edition": 1,
        "parties": {"firm": THIRD, "lab": FOURTH},
        "visit": "2026-12-01",
        "zone": "America/New_York",
    }
    field.act("stranger", f"form/{form}", "opened", opened)
    for sample, kind in zip(samples[:2], ("indoor", "outdoor"), strict=True):
        field.collect(form, lot, sample, kind, who="stranger")
    return stranger, form, lot, samples


def _visit(field: Field) -> dict[str, list[str]]:
    """A visit of the first two organizations up to acceptance, a lot with numbers never used, and a new key:
    numbers by kind.
    """
    form, envelope, samples, seal = field.faultless()
    lot, announced = field.lot(2)
    field.enroll(field.device("newcomer", "harrow-field"), "inspector")
    field.ledger.sequencer.integrate()
    chains = (f"form/{form}", f"lot/{lot}", "org/harrow-field")
    statements, indexes = [], []
    with field.ledger.database.reading() as connection:
        from bailee.store import log

        for chain in chains:
            newest = log.chain(connection, chain)[-1]
            statements.append(signed_statement.digest(entries.read(newest.text).stmt))
            indexes.append(str(newest.index))
    return {
        "form": [form],
        "envelope": [envelope],
        "sample": [samples[0], announced[0]],
        "lot": [lot],
        "seal": [seal],
        "statement": statements,
        "index": indexes,
    }


def _entered(field: Field, device: Device) -> FlaskClient:
    client = field.app.test_client()
    token = access.issue_for_pages(device.key, device.org, ORIGIN, int(field.clock().timestamp()))
    assert client.post("/session", json={"token": token}).status_code == 200
    return client


def _listen(world: World) -> None:
    """Everything SQLite is asked, by whatever way it is asked."""

    def checkout(connection: Any, *_: Any) -> None:
        connection.set_trace_callback(world.asked.append)

    event.listen(world.field.ledger.database.engine, "checkout", checkout)


NAMED: Mapping[str, tuple[str, ...]] = {
    "GET /lots/<lot>/issuing": ("/lots/<lot>/issuing?count=1&at=2026-12-01T09:12:00-05:00",),
    "GET /exceptions": (
        "/exceptions?rule=OC-01&about=<form>",
        "/exceptions?rule=OC-01&about=<envelope>",
        "/exceptions?rule=ML-02&about=<sample>",
        "/exceptions?rule=OC-01&about=<form>&form=<form>",
        "/exceptions?rule=ML-02&about=<sample>&form=OWN",
    ),
    "GET /forms/<form>/facts": (
        "/forms/<form>/facts",
        "/forms/OWN/facts?about=<sample>",
        "/forms/OWN/facts?about=<envelope>",
    ),
    "GET /forms/<form>": ("/forms/<form>", "/forms/<form>?as_of=2026-12-01T14:00:00Z"),
    "GET /forms/<form>/bundle": ("/forms/<form>/bundle", "/forms/<form>/bundle?redact=all"),
    "GET /forms": ("/forms?before=<form>",),
    "GET /lots": ("/lots?before=<lot>",),
    "GET /window": tuple(
        f"/window?number={number}&carrier=acorn-freight&handed_over=2026-12-01T16:00&service_days=1"
        for number in ("<form>", "<envelope>")
    ),
    "GET /pages/find": ("/pages/find?number=<form>", "/pages/find?number=<sample>"),
    "GET /<any(S, E, F, M):letter>/<number>": ("/F/<form>", "/E/<envelope>", "/S/<sample>", "/M/<lot>"),
    "GET /pages/forms/<number>": ("/pages/forms/<form>",),
    "GET /pages/forms/<number>/blind": ("/pages/forms/<form>/blind",),
    "GET /pages/envelopes/<number>": ("/pages/envelopes/<envelope>",),
    "GET /pages/samples/<number>": ("/pages/samples/<sample>",),
    "GET /pages/lots/<number>": ("/pages/lots/<lot>",),
    "GET /pages/<path:rest>": ("/pages/<form>",),
    "GET /lots/<lot>/labels.pdf": ("/lots/<lot>/labels.pdf",),
}
"""Requests that name a number in other places than the path, or in more ways than one.

`OWN` is the asker's form.
"""

NAMES_NOTHING: Mapping[str, str] = {
    "GET /": "lists the asker's own",
    "GET /enter": "the same for everybody",
    "GET /pages/static/<filename>": "styles and script",
    "GET /sign/": "the same for everybody",
    "GET /sign/worker.js": "the same for everybody",
    "GET /sign/f/<made>/<path:name>": "the same for everybody",
    "GET /sign/<path:rest>": "the same for everybody",
    "GET /labels/test.pdf": "the same for everybody",
    "GET /pen-forms.pdf": "prints the numbers it was given, and looks nothing up",
    "GET /openapi.json": "the same for everybody",
    "GET /api": "the same for everybody",
    "GET /guide": "the same for everybody",
    "GET /guide/<name>": "the same for everybody",
    "GET /rules": "the same for everybody",
    "GET /rules/<code>": "the same for everybody",
    "GET /devices/me": "the asker's own key",
    "GET /devices/<kid>": "looks among the asker's own organization's keys",
    "GET /brief": "lists the asker's own",
    "GET /chase": "lists the asker's own",
    "GET /certificate": "the asker's own instruments",
    "GET /flow": "a calculation",
    "GET /organizations": "names, which every enrolled key may see",
    "GET /organizations/<org>": "names, which every enrolled key may see; its chain has a test of its own",
    "GET /organizations/<org>/key-card.pdf": "no number; who may see its keys has a test of its own",
    "POST /session": "takes a token and nothing else",
    "POST /session/end": "takes nothing",
    "GET /health": "sizes and hashes: they differ, and are for everybody",
    "GET /checkpoint": "sizes and hashes: they differ, and are for everybody",
    "GET /proofs/inclusion": "sizes and hashes: they differ, and are for everybody",
    "GET /proofs/consistency": "sizes and hashes: they differ, and are for everybody",
    "GET /tile/<int:level>/<path:tile>": "sizes and hashes: they differ, and are for everybody",
    "GET /tile/entries/<path:tile>": "monitors read every entry; nobody else reads any",
    "POST /checkpoint/cosignatures": "hashes and signatures over them",
    "POST /entries": "each act is tried below",
    "POST /readiness": "each question is tried below",
}


def _operations(two: Two) -> dict[str, str]:
    """Every operation of the service: its name and its path."""
    return {
        f"{method} {rule.rule}": rule.rule
        for rule in two.with_it.field.app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
    }


def _calls(two: Two, name: str, path: str) -> Iterator[Call]:
    method = name.partition(" ")[0]
    for asked in NAMED.get(name, (re.sub(r"<(?:\w+:)?(\w+)>", r"<\1>", path),)):
        filled = [asked.replace("OWN", two.form)]
        for kind, numbers in two.unseen.items():
            filled = [each.replace(f"<{kind}>", number) for each in filled for number in numbers]
        for each in dict.fromkeys(filled):
            assert "<" not in each, (
                f"{name}: say what to ask with {each} (`NAMED`), or why it names nothing (`NAMES_NOTHING`)"
            )
            yield Call(method, each)
            yield Call(method, each, as_page=True)
            yield Call(method, each, alone=True)


@pytest.mark.slow
def test_every_question_about_a_number_is_answered_as_if_it_were_not_there(two: Two) -> None:
    """A competitor with an account could try the numbers on every label and form he gets to see."""
    told = {
        call.path: differ
        for name, path in _operations(two).items()
        if name not in NAMES_NOTHING
        for call in _calls(two, name, path)
        if (differ := two.differ(call))
    }
    assert not told, "\n".join(f"{path}: {differ}" for path, differ in told.items())


def test_no_operation_is_forgotten(two: Two) -> None:
    """An operation that nobody tries is the one that tells."""
    operations = _operations(two)
    assert {*NAMED, *NAMES_NOTHING} - operations.keys() == set()
    tried = {
        name
        for name, path in operations.items()
        if name not in NAMES_NOTHING and list(_calls(two, name, path))
    }
    assert tried | NAMES_NOTHING.keys() == operations.keys()
    assert len(tried) >= 20


def test_the_owners_are_answered(two: Two) -> None:
    """Silence to everybody would look the same to this test and be of no use."""
    field = two.with_it.field
    assert field.get("clerk", f"/forms/{two.unseen['form'][0]}").status_code == 200
    assert field.get("keeper", f"/samples/{two.unseen['sample'][1]}").status_code == 200
    for statement, index in zip(two.unseen["statement"], two.unseen["index"], strict=True):
        assert field.get("keeper", f"/statements/{statement}").status_code == 200
        assert field.get("keeper", f"/entries/{index}").status_code == 200


def _questions(two: Two) -> Iterator[dict[str, Any]]:
    (form,), (envelope,) = (two.unseen[kind] for kind in ("form", "envelope"))
    own = two.samples[0]
    number = two.with_it.field.number("envelope")
    for samples in (
        [two.unseen["sample"][0]],
        [two.unseen["sample"][1]],
        [own, two.unseen["sample"][0]],
        [own],
    ):
        for into in (envelope, number):
            sealing = {
                "envelope": into,
                "samples": samples,
                "total": len(samples),
                "across_opening": True,
                "record_enclosed": True,
                "seal": "TP-1",
                "at": AT,
            }
            yield {"act": "sealed", "data": sealing}
        items = [{"sample": each, "condition": ["intact"]} for each in samples]
        yield {"act": "received", "data": {"items": items, "at": AT}}
    handing = {
        "carrier": "acorn-freight",
        "service": "next day",
        "service_days": 1,
        "tracking": "AF-1002003",
        "handed_over": AT,
    }
    yield {"act": "shipped", "data": {"envelope": envelope, **handing}}
    run = {"lot": two.lot, "kind": "indoor", "started": AT, "run_s": 300, "covers_on": True}
    for sample in (*two.unseen["sample"], own):
        yield {"act": "collected", "data": {**run, "sample": sample}}
        yield {"act": "collected", "data": {**run, "sample": sample}, "form": form}
        yield {"act": "collected", "data": {**run, "sample": sample}, "form": two.form}
        yield {"act": "voided", "data": {"sample": sample, "reason": "dropped"}}
        yield {"act": "voided", "data": {"sample": sample, "reason": "dropped"}, "form": form}
        yield {"act": "voided", "data": {"sample": sample, "reason": "dropped"}, "form": two.form}


@pytest.mark.slow
def test_every_question_about_readiness_is_answered_as_if_it_were_not_there(two: Two) -> None:
    """Asking whether somebody else's samples may go would tell that they are there, and in what state."""
    for body in _questions(two):
        two.same(Call("POST", "/readiness", body))


def _filled(two: Two, data: Any, choice: int) -> Any:
    """The example with every number exchanged for one of the unseen visit."""
    unseen = {kind: numbers[choice % len(numbers)] for kind, numbers in two.unseen.items()} | {"lot": two.lot}
    letters = {"S": "sample", "E": "envelope", "F": "form", "M": "lot"}
    if isinstance(data, Mapping):
        return {name: _filled(two, each, choice) for name, each in data.items()}
    if isinstance(data, list):
        return [_filled(two, each, choice) for each in data]
    if isinstance(data, str) and re.fullmatch(r"[SEFM][0-9A-Z]{10}[0-9A-Z*]", data):
        return unseen[letters[data[0]]]
    return unseen["statement"] if data == "A" * 43 else data


def _statements(two: Two, kind: str, chain: str) -> Iterator[dict[str, Any]]:
    for act in ON_CHAIN[kind]:  # type: ignore[index]
        if act != OPENING[kind].name:  # type: ignore[index]
            for choice in (0, 1):
                data = _filled(two, LEAST[act], choice)
                if act == "forwarded":
                    data["items"][0]["sample"] = two.samples[0]
                yield two.stranger.sign(chain, act, data, {"fields": "client"} if "erased" in act else None)


@pytest.mark.parametrize("kind", ["form", "lot"])
def test_every_act_on_a_chain_of_others_is_refused_as_if_it_were_not_there(two: Two, kind: str) -> None:
    """Whoever signs something on a number would learn from the refusal that it exists."""
    (number,) = two.unseen[kind]
    for body in _statements(two, kind, f"{kind}/{number}"):
        two.same(Call("POST", "/entries", body, alone=True))


@pytest.mark.slow
def test_naming_numbers_of_others_on_a_form_of_ones_own_tells_nothing_of_them(two: Two) -> None:
    """Whoever may not ask about a lot, a sample or an envelope could claim it, and read what the rules say of
    it.
    """
    own = (("form", f"form/{two.form}"), ("lot", f"lot/{two.lot}"))
    for kind, chain in own:
        for body in _statements(two, kind, chain):
            two.same(Call("POST", "/entries", body, alone=True))
    run = two.with_it.field.run(two.lot, two.unseen["sample"][1])
    claimed = two.stranger.sign(f"form/{two.form}", "collected", run)
    two.same(Call("POST", "/entries", claimed, alone=True))
    for path in (
        f"/forms/{two.form}",
        f"/lots/{two.lot}",
        f"/lots/{two.lot}/uses",
        "/chase",
        "/forms",
        "/lots",
    ):
        two.same(Call("GET", path))
    for name, path in _operations(two).items():
        for call in _calls(two, name, path) if name not in NAMES_NOTHING else ():
            two.same(call)
