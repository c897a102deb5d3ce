"""The app's modules in a browser: alone, on an empty page of a secure origin that no network reaches."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest
from phones import Firm, Phone, firm_at

import programs
from bailee.web import sign_app

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Route

HERE = "https://app.example"


class Modules:
    """`call("core/numbers.js", "read", [...])`: a function of a module, once for each list of arguments."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def call(self, module: str, name: str, arguments: list[Any]) -> list[Any]:
        """What it gave, or {"error": its code or message}."""
        return self.run(
            module,
            f"""async (m, all) => {{
                const out = [];
                for (const each of all) {{
                  try {{ out.push(await m.{name}(...each)); }}
                  catch (e) {{ out.push({{ error: e.code ?? e.message, facts: e.facts ?? null }}); }}
                }}
                return out;
            }}""",
            arguments,
        )

    def run(self, module: str, body: str, argument: Any = None) -> Any:
        """`body` is a function of the module and the argument."""
        return self.page.evaluate(
            f"async ([path, text]) => ({body})(await import(path), JSON.parse(text))",
            [f"{HERE}/{module}", json.dumps(argument)],
        )


@pytest.fixture(scope="module")
def modules(browser: Browser) -> Iterator[Modules]:
    """The modules, loaded as the service would send them."""
    context = programs.visitor(browser)

    def answer(route: Route) -> None:
        name = route.request.url.removeprefix(f"{HERE}/")
        if name:
            route.fulfill(body=sign_app.edition().files[name], content_type="text/javascript")
        else:
            route.fulfill(body="<!doctype html><title>empty</title>", content_type="text/html")

    context.route("**/*", answer)
    page = context.new_page()
    page.goto(f"{HERE}/")
    yield Modules(page)
    context.close()


@pytest.fixture(scope="module")
def firm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Firm]:
    """A service that answers on this machine; of each file its own, so that none begins in the evening of
    another's day.
    """
    with firm_at(tmp_path_factory.mktemp("firm")) as found:
        yield found
        for phone in found.phones:  # what one of them sends from now on would find nobody
            phone.context.close()


@pytest.fixture(scope="module")
def ines(firm: Firm, browser: Browser) -> Phone:
    """The inspector's phone, with a key that was made and let in as the screens say."""
    return firm.phone(browser, "Ines Marlow", "inspector")


@pytest.fixture(scope="module")
def zoe(firm: Firm, browser: Browser) -> Phone:
    """The second person's."""
    return firm.phone(browser, "Zoë Lind", "inspector")


@pytest.fixture(scope="module")
def cato(firm: Firm, browser: Browser) -> Phone:
    """The clerk's."""
    return firm.phone(browser, "Cato Wren", "clerk")
