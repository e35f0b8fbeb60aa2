"""The page's addresses; `openapi.json` beside it describes them all."""

from __future__ import annotations

import asyncio
import gzip
import json
import math
import threading
import time
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, TypeVar

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from rigmon import __version__
from rigmon.errors import RigmonError
from rigmon.outlets.page.guard import REPORT_POLICY, Guard, not_found
from rigmon.outlets.page.hub import MOST_STREAMS, Hub
from rigmon.outlets.page.keys import Keys
from rigmon.outlets.page.static_files import INDEX, page_files
from rigmon.outlets.page.story import story
from rigmon.outlets.page.streaming import EventStream
from rigmon.outlets.page.words import spoken
from rigmon.records import parse_mark
from rigmon.run.alarms import SOUNDS
from rigmon.run.speech import Speech

API = 1
_T = TypeVar("_T")
_LONGEST_SEQ = 18
_PACKED_FROM = 1024
_REPORT_STAYS_S = 60.0
_HTML = "text/html; charset=utf-8"


@dataclass(frozen=True, slots=True)
class Asked:
    """What the page asks of the rest of the program; each call may take a while.

    Args:
        mark: takes a rig and a mark as text, gives the answer once it is in the log.
        plan: the plan of a rig's batch as data; raises a `RigmonError` that says why there is none.
        reported: whether there is a report of a run; makes none.
        report: the report of a run as HTML; None while there is none.
    """

    mark: Callable[[str, str], Mapping[str, Any]]
    plan: Callable[[str], Mapping[str, Any]]
    reported: Callable[[str], bool]
    report: Callable[[str], str | None]


class Page:
    """The routes of the page.

    Args:
        hub: what it shows.
        asked: the rest of the program.
        virtual: whether each rig is invented, by id.
        speech: the maker's language and units.
    """

    def __init__(
        self, hub: Hub, asked: Asked, virtual: Mapping[str, bool], speech: Speech | None = None
    ) -> None:
        self._hub = hub
        self._asked = asked
        self._virtual = dict(virtual)
        self._speech = speech or Speech()
        self._files = page_files()
        self._working = asyncio.Lock()
        self._report_made: tuple[float, str, str | None] = (-math.inf, "", None)

    def routes(self) -> list[Route]:
        """Every address, as `openapi.json` describes it."""
        return [
            Route("/", self._index),
            Route("/static/{name}", self._static),
            Route("/api/v1/hello", self._hello),
            Route("/api/v1/openapi.json", self._openapi),
            Route("/api/v1/stream", self._stream),
            Route("/api/v1/rigs/{rig}/trend", self._trend),
            Route("/api/v1/rigs/{rig}/marks", self._mark, methods=["POST"]),
            Route("/api/v1/rigs/{rig}/plan", self._plan),
            Route("/api/v1/rigs/{rig}/story", self._story),
            Route("/api/v1/runs/{run}/report", self._report),
        ]

    def app(self, keys: Keys, names: tuple[str, ...] = ()) -> ASGIApp:
        """The application, guarded; `names` are those of this machine."""
        app = Starlette(routes=self.routes(), exception_handlers={HTTPException: _failed})
        # It would redirect to an address without its key.
        app.router.redirect_slashes = False
        return Guard(app, keys, names)

    async def _index(self, request: Request) -> Response:
        return self._files[INDEX].answer(request)

    async def _static(self, request: Request) -> Response:
        file = self._files.get(request.path_params["name"])
        return not_found() if file is None else file.answer(request)

    async def _hello(self, request: Request) -> Response:
        speech = self._speech
        told = {
            "version": __version__,
            "api": API,
            "language": speech.language,
            "rights": request.scope["rights"],
            "server_unix": round(time.time(), 3),
            "units": {"temperature": speech.temperature_unit, "mass": speech.mass_unit},
            "rigs": [{"id": rig, "virtual": self._virtual[rig]} for rig in self._hub.rigs],
            "words": spoken(speech.language),
            "sounds": {
                priority.value: {
                    "pattern": [[sound.on_ms / 1e3, sound.off_ms / 1e3]] * sound.bursts,
                    "repeat_s": sound.again_s,
                }
                for priority, sound in SOUNDS.items()
            },
        }
        return _packed(request, _json(told))

    async def _openapi(self, request: Request) -> Response:
        return _packed(request, openapi())

    async def _stream(self, request: Request) -> Response:
        only = request.query_params.get("rig")
        if only is not None and only not in self._hub.rigs:
            return not_found()
        if self._hub.streams >= MOST_STREAMS:
            text = f"{MOST_STREAMS} pages listen already: close one."
            return JSONResponse({"text": text}, 503, {"retry-after": "5"})
        # The browser's own word, when it joins again, is newer than the address it joined by.
        said = request.headers.get("last-event-id") or request.query_params.get("since") or ""
        since = int(said) if said.isdecimal() and len(said) <= _LONGEST_SEQ else None
        return EventStream(self._hub.stream(since, only))

    async def _trend(self, request: Request) -> Response:
        rig = self._rig(request)
        return _packed(request, await in_thread(lambda: self._trend_of(rig)))

    def _trend_of(self, rig: str) -> bytes:
        run, rows, marks = self._hub.trend(rig)
        return _json(
            {"rig": rig, "run": run, "seq": rows.seq, "columns": rows.as_dict(), "marks": marks}
        )

    async def _mark(self, request: Request) -> Response:
        rig = self._rig(request)
        try:
            said = json.loads(await request.body())
        except (ValueError, RecursionError):
            said = None
        if not isinstance(said, dict) or not isinstance(said.get("mark"), str):
            text = 'A mark is written {"mark": "recharge ice_g=900 salt_g=200"}.'
            return JSONResponse({"ok": False, "text": text}, 400)
        mark = plain(said["mark"])
        refusal = _not_from_here(mark)
        if refusal is not None:
            return JSONResponse({"ok": False, "text": refusal}, 422)
        answer = await in_thread(lambda: self._asked.mark(rig, mark))
        ok = bool(answer.get("ok"))
        told = {"ok": ok, "text": answer.get("text", "")}
        return JSONResponse(told, 200 if ok else 422)

    async def _plan(self, request: Request) -> Response:
        rig = self._rig(request)
        try:
            # One at a time: plans and reports take the computer a while.
            async with self._working:
                plan = await in_thread(lambda: self._asked.plan(rig))
        except RigmonError as why:
            return JSONResponse({"text": f"{why}"}, 404)
        return _packed(request, _json(plan))

    async def _story(self, request: Request) -> Response:
        ended = self._hub.summary(self._rig(request))
        if ended is None:
            return JSONResponse({"text": self._speech.say("No run has ended yet.")}, 404)
        _, figures, at = ended
        return JSONResponse(story(figures, at, self._speech))

    async def _report(self, request: Request) -> Response:
        run = request.path_params["run"]
        try:
            if request.method == "HEAD":
                there = await in_thread(lambda: self._asked.reported(run))
                return Response(status_code=200 if there else 404, media_type=_HTML)
            async with self._working:
                # Whoever reads it reloads it, and shows it to others.
                made_at, known, report = self._report_made
                if report is None or known != run or time.monotonic() - made_at > _REPORT_STAYS_S:
                    report = await in_thread(lambda: self._asked.report(run))
                    self._report_made = time.monotonic(), run, report
        except RigmonError as why:
            return JSONResponse({"text": f"{why}"}, 404)
        if report is None:
            return JSONResponse({"text": self._speech.say("There is no such report.")}, 404)
        answer = _packed(request, report.encode(), _HTML)
        answer.headers["content-security-policy"] = REPORT_POLICY
        return answer

    def _rig(self, request: Request) -> str:
        rig = str(request.path_params["rig"])
        if rig not in self._hub.rigs:
            raise HTTPException(404)
        return rig


async def _failed(_: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    if status == 404:
        return not_found()
    return Response("Not like this.\n", status, media_type="text/plain")


def plain(text: str) -> str:
    r"""A text on one line, without what could steer a terminal that shows it.

    >>> plain("note second\nbag \x1b[2J")
    'note second bag [2J'
    """
    shown = ("" if unicodedata.category(sign) in ("Cc", "Cf") else sign for sign in _one_line(text))
    return "".join(shown)


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _not_from_here(mark: str) -> str | None:
    """Why a mark is refused that other programs of this computer's user may set."""
    try:
        detail = parse_mark(mark, 0.0).detail
    except ValueError:
        return None
    if "recipe" in detail:
        return "A recipe's file is named on the computer itself: `rigmon start`."
    return None


async def in_thread(work: Callable[[], _T]) -> _T:
    """What `work` gives, done in a thread that a program which ends does not wait for."""
    loop = asyncio.get_running_loop()
    done: asyncio.Future[_T] = loop.create_future()

    def settle(give: Callable[[Any], None], result: object) -> None:
        if not done.done():
            give(result)

    def run() -> None:
        try:
            told: tuple[Callable[[Any], None], object] = done.set_result, work()
        except Exception as why:  # noqa: BLE001 - raised again by whoever waits
            told = done.set_exception, why
        try:
            loop.call_soon_threadsafe(settle, *told)
        except RuntimeError:
            return  # The server has ended meanwhile.

    threading.Thread(target=run, name="rigmon-page-work", daemon=True).start()
    return await done


@cache
def openapi() -> bytes:
    """The description of the interface (OpenAPI 3.1)."""
    return (resources.files("rigmon.outlets.page") / "openapi.json").read_bytes()


def _json(data: object) -> bytes:
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()


def _packed(request: Request, body: bytes, kind: str = "application/json") -> Response:
    """An answer, packed if that is worth it and the client takes it."""
    if len(body) < _PACKED_FROM or "gzip" not in request.headers.get("accept-encoding", ""):
        return Response(body, media_type=kind)
    headers = {"content-encoding": "gzip", "vary": "accept-encoding"}
    return Response(gzip.compress(body, 4), media_type=kind, headers=headers)
