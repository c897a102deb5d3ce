"""Browsers of other makers than Chromium's, driven by the commands of W3C WebDriver: Firefox over its own
socket (Marionette), WebKitGTK by its WebKitWebDriver. No package for Python is needed for either.

    with started("firefox", folder) as browser:
        browser.go(address)
        browser.run("return document.title")      # the body of an asynchronous function

What is typed and tapped comes as real keys and clicks. The clock of such a browser cannot be set from
outside: the app that is tried here (`edition_in`) has one line more, by which its clock is the ledger's.
"""

from __future__ import annotations

import http.client
import json
import os
import signal
import socket
import subprocess
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Final

import pytest
from phones import Firm, Phone

import programs
from bailee.web import sign_app
from hosts.tcp_proxy import TcpProxy

ENGINES: Final = {"firefox": ("firefox-esr",), "webkit": ("WebKitWebDriver", "Xvfb")}
"""What each needs; `sh tests/set-up engines` brings it."""
PATIENCE_S: Final = 300
_ELEMENT: Final = "element-6066-11e4-a52e-4f735466cecf"  # W3C WebDriver 11
_TAB: Final = "\ue004"
_SIZE: Final = {"MOZ_HEADLESS_WIDTH": "500", "MOZ_HEADLESS_HEIGHT": "900"}  # no narrower window is made
_PATHS: Final = {
    "Navigate": "url",
    "SetTimeouts": "timeouts",
    "ExecuteAsyncScript": "execute/async",
    "ElementClick": "element/{id}/click",
    "ElementClear": "element/{id}/clear",
    "ElementSendKeys": "element/{id}/value",
}
"""Commands by the names that Marionette has for them, and where WebDriver takes them."""
_SCRIPT: Final = """const done = arguments[arguments.length - 1];
(async (...given) => { %s })(...[...arguments].slice(0, -1))
    .then(value => done({ value }), error => done({ error: `${error.name}: ${error.message}` }));"""
PREFERENCES: Final = {
    "app.update.enabled": False,
    "browser.aboutwelcome.enabled": False,
    "browser.download.alwaysOpenPanel": False,
    "browser.download.folderList": 2,
    "browser.download.always_ask_before_handling_new_types": False,
    "browser.newtabpage.enabled": False,
    "browser.pagethumbnails.capturing_disabled": True,
    "browser.sessionstore.resume_from_crash": False,
    "browser.shell.checkDefaultBrowser": False,
    "browser.startup.homepage_override.mstone": "ignore",
    "browser.startup.page": 0,
    "datareporting.policy.dataSubmissionEnabled": False,
    "focusmanager.testmode": True,  # the window has the focus, whatever opens beside it
    "marionette.port": 0,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "services.settings.server": "",
    "termsofuse.bypassNotification": True,
    "toolkit.startup.max_resumed_crashes": -1,
    "toolkit.telemetry.server": "",
}


class Failed(Exception):
    """What a page or a driver could not do."""


class Browser(ABC):
    """One window of a browser."""

    def __init__(self, process: subprocess.Popen[bytes]) -> None:
        self.process = process

    @abstractmethod
    def command(self, name: str, **told: Any) -> Any:
        """One command of WebDriver."""

    def begin(self) -> None:
        """A patient one."""
        self.command("SetTimeouts", script=PATIENCE_S * 1000, pageLoad=PATIENCE_S * 1000)

    def go(self, address: str) -> None:
        """Load a page."""
        self.command("Navigate", url=address)

    def again(self) -> None:
        """Left, and loaded once more, as after a killed tab.

        Not `Refresh`: Firefox asks the network for that and leaves the service worker out.
        """
        address = self.run("return location.href")
        self.go("about:blank")
        self.go(address)

    def run(self, body: str, *given: Any) -> Any:
        """What the body of an asynchronous function of `given` returns."""
        told = self.command("ExecuteAsyncScript", script=_SCRIPT % body, args=list(given))
        if "error" in told:
            raise Failed(told["error"])
        return told.get("value")

    def tap(self, body: str, *given: Any) -> None:
        """A click on the element that `body` returns, as soon as it is there and can be clicked."""

        def tapped() -> bool:
            found = self.run(body, *given)
            if not found:
                return False
            self.run("given[0].scrollIntoView({ block: 'center' })", found)  # not under the bar
            self.command("ElementClick", id=found[_ELEMENT])
            return True

        self.until(tapped, f"{given}")

    def type(self, body: str, text: str, *given: Any) -> None:
        """Keys into the field that `body` returns, and on to the next."""
        self.until(lambda: self.run(body, *given), f"{given}")
        field = self.run(body, *given)[_ELEMENT]
        self.command("ElementClear", id=field)
        self.command("ElementSendKeys", id=field, text=text + _TAB)

    def until(self, holds: Callable[[], object], what: str) -> None:
        """Wait for a state of the page; what it shows is told when that never comes."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            with suppress(Failed):
                if holds():
                    return
            time.sleep(0.05)
        raise AssertionError(f"never: {what}. The page shows: {self.run('return document.body.innerText')}")

    def kill(self) -> None:
        """The whole browser, at once."""
        with suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()


class Firefox(Browser):
    """Over Marionette: a length, a colon, and a message in JSON."""

    def __init__(self, profile: Path, **preferences: Any) -> None:
        profile.mkdir(exist_ok=True)
        lines = [
            f"user_pref({json.dumps(name)}, {json.dumps(value)});"
            for name, value in (PREFERENCES | {"browser.download.dir": str(profile)} | preferences).items()
        ]
        (profile / "user.js").write_text("\n".join(lines))
        port = profile / "MarionetteActivePort"
        port.unlink(missing_ok=True)
        program = [str(programs.required("firefox-esr")), "--headless", "--marionette", "--no-remote"]
        super().__init__(_process([*program, "--profile", str(profile)], HOME=str(profile), **_SIZE))
        while not (port.exists() and port.read_text().strip()):
            if self.process.poll() is not None:
                raise Failed("Firefox ended before it began.")
            time.sleep(0.05)
        self.socket = socket.create_connection(("127.0.0.1", int(port.read_text())))
        self.file = self.socket.makefile("rb")
        self.number = 0
        self._read()
        self.command("NewSession", acceptInsecureCerts=False)
        self.begin()

    def command(self, name: str, **told: Any) -> Any:
        self.number += 1
        message = json.dumps([0, self.number, f"WebDriver:{name}", told]).encode()
        self.socket.sendall(b"%d:%s" % (len(message), message))
        _, _, error, answer = self._read()
        if error:
            raise Failed(f"{name}: {error['error']}, {error['message']}")
        return answer.get("value") if isinstance(answer, dict) and set(answer) == {"value"} else answer

    def kill(self) -> None:
        super().kill()
        self.file.close()
        self.socket.close()

    def _read(self) -> Any:
        size = b""
        while (one := self.file.read(1)) != b":":
            if not one:
                raise Failed("Firefox is gone.")
            size += one
        return json.loads(self.file.read(int(size)))


class WebKit(Browser):
    """By WebKitWebDriver, on a screen of its own. It forgets everything when it is closed."""

    def __init__(self, home: Path) -> None:
        home.mkdir(exist_ok=True)
        self.screen, display = _screen()
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        program = [str(programs.required("WebKitWebDriver")), f"--port={self.port}"]
        super().__init__(_process(program, HOME=str(home), DISPLAY=display, GDK_BACKEND="x11"))
        while not self._listens():
            time.sleep(0.05)
        options = {"binary": _mini_browser(), "args": ["--automation"]}
        asked = {"alwaysMatch": {"browserName": "MiniBrowser", "webkitgtk:browserOptions": options}}
        self.session = self._ask("POST", "/session", {"capabilities": asked})["sessionId"]
        self.begin()

    def again(self) -> None:
        """Loaded once more. Not left for an empty page: one time in ten its database then stands still until
        the browser is closed, whatever page asks it (measured).
        """
        self.run("setTimeout(() => location.reload())")

    def _listens(self) -> bool:
        try:
            socket.create_connection(("127.0.0.1", self.port)).close()
        except OSError:
            return False
        return True

    def command(self, name: str, **told: Any) -> Any:
        path = _PATHS[name].format(id=told.pop("id", ""))
        return self._ask("POST", f"/session/{self.session}/{path}", told)

    def _ask(self, method: str, path: str, told: Any) -> Any:
        link = http.client.HTTPConnection("127.0.0.1", self.port)
        link.request(method, path, json.dumps(told), {"Content-Type": "application/json"})
        found = json.loads(link.getresponse().read())["value"]
        link.close()
        if isinstance(found, dict) and "error" in found and "message" in found:
            raise Failed(f"{path}: {found['error']}, {found['message']}")
        return found

    def kill(self) -> None:
        super().kill()
        self.screen.kill()
        self.screen.communicate()


def _process(command: list[str], **environment: str) -> subprocess.Popen[bytes]:
    there = os.environ | {"TZ": "America/New_York"} | environment
    quiet = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    return subprocess.Popen(command, env=there, start_new_session=True, **quiet)  # type: ignore[call-overload,no-any-return]


def _screen() -> tuple[subprocess.Popen[bytes], str]:
    """A screen that nobody sees, and its name."""
    command = [str(programs.required("Xvfb")), "-displayfd", "1", "-screen", "0", "1280x1000x24"]
    made = subprocess.Popen([*command, "-nolisten", "tcp"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    assert made.stdout
    return made, f":{int(made.stdout.readline())}"


def _mini_browser() -> str:
    """Installed, or where it would be if what was unpacked were installed: its wrapper makes it so."""
    roots = [Path("/"), *programs.UNPACKED.glob("webkit2gtk-driver")]
    for root in roots:
        for each in sorted(root.glob("usr/lib/*/webkit2gtk-4.*/MiniBrowser")):
            return f"/{each.relative_to(root)}"
    pytest.skip("no MiniBrowser")


@contextmanager
def started(engine: str, folder: Path, **preferences: Any) -> Iterator[Browser]:
    """A browser with its profile in this folder; left out where it is not on this machine."""
    for each in ENGINES[engine]:
        programs.required(each)
    made: Browser = Firefox(folder, **preferences) if engine == "firefox" else WebKit(folder)
    try:
        yield made
    finally:
        made.kill()


def edition_in(begin_ms: int) -> sign_app.Edition:
    """The app, but that its clock began at `begin_ms` just now, and is as much ahead as somebody says."""
    files = dict(sign_app.edition().files)
    ahead = "Number(localStorage.getItem('ahead') ?? 0)"
    clock = f"{{ const real = Date.now.bind(Date), shift = {begin_ms - round(time.time() * 1000)};"
    clock += f" const ahead = () => {{ try {{ return {ahead}; }} catch {{ return 0; }} }};"
    clock += " Date.now = () => real() + shift + ahead(); }"
    files["main.js"] = clock.encode() + b"\n" + files["main.js"]
    return sign_app.Edition(sign_app.digest(files), files)


class ElsewherePhone(Phone):
    """One person's phone in another engine: the same words are tapped, the same questions answered."""

    def __init__(self, firm: Firm, browser: Browser, person: str, network: TcpProxy) -> None:
        self.firm, self.browser, self.person, self.network = firm, browser, person, network
        self.complaints: list[str] = []

    def go(self, address: str) -> None:
        self.browser.go(f"http://{self.network.host}:{self.network.port}{address}")

    def later(self, minutes: int) -> None:
        self.browser.run(
            "localStorage.setItem('ahead', Number(localStorage.getItem('ahead') ?? 0) + given[0])",
            minutes * 60_000,
        )

    def heading(self, text: str) -> None:
        self.see(text, "h1")

    def see(self, text: str, where: str = "body") -> None:
        shown = "return document.querySelector(given[0])?.innerText.includes(given[1])"
        self.browser.until(lambda: self.browser.run(shown, where, text), text)

    def tap(self, name: str) -> None:
        self.browser.tap(
            """return [...document.querySelectorAll("button, a")]
                .find(e => e.checkVisibility() && e.innerText.trim() === given[0])""",
            name,
        )

    def pick(self, question: str, answer: str) -> None:
        self.browser.tap(
            """return [...document.querySelectorAll("fieldset")]
                .filter(e => e.checkVisibility() && e.querySelector("legend").innerText.includes(given[0]))
                .flatMap(e => [...e.querySelectorAll("label")]).find(e => e.innerText.trim() === given[1])
                ?.control""",
            question,
            answer,
        )

    def type(self, question: str, text: str) -> None:
        self.browser.type(
            """return [...document.querySelectorAll("label")]
                .filter(e => e.checkVisibility() && e.innerText.trim().startsWith(given[0]))
                .map(e => e.control).find(e => e?.type === "text")""",
            text,
            question,
        )

    def look_again(self) -> None:
        """The screen that waits asks by itself."""

    def saved_request(self) -> dict[str, Any]:
        """What the file holds that the app gives away."""
        self.browser.run(
            """const give = URL.createObjectURL;
            URL.createObjectURL = file => { window.given = file; return give.call(URL, file); };"""
        )
        self.tap("Save the request as a file")
        self.browser.until(lambda: self.browser.run("return Boolean(window.given)"), "the file")
        found: dict[str, Any] = json.loads(self.browser.run("return window.given.text()"))
        return found

    @property
    def address(self) -> str:
        return str(self.browser.run("return location.href"))

    def evaluate(self, script: str) -> Any:
        return self.browser.run(f"return ({script})()")
