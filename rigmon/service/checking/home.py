"""What a rig needs of this computer: disk, log, page, recipe, and a forecast that comes in time."""

from __future__ import annotations

import os
import shutil
import socket
import time
from collections.abc import Iterator
from pathlib import Path

from rigmon.config import PageConfig
from rigmon.errors import LogError, RigmonError
from rigmon.estimate.estimator import Estimator
from rigmon.physics.mix import freezing_curve
from rigmon.records import Mark, MarkWord, Place, Reading
from rigmon.service.calibrated import Correction, correction_words, corrections, day
from rigmon.service.checking.finding import Finding, look, ok, wrong
from rigmon.service.mixessay import MixesSay, mixes_say
from rigmon.service.prepare import Rig
from rigmon.store.log import RunLog, default_log_path
from rigmon.units import temperature

LITTLE_MB, TOO_LITTLE_MB = 200.0, 20.0
"""A batch takes 1 MB or two of the log; below these the disk is soon full [MB]."""

SLOW_FORECAST_S = 2.0
"""Forecasts are due every 5 s; one that takes longer than this leaves no room [s]."""

_DRY_S = 240
_PATIENCE_S = 1.0


def of_disk(log_path: Path | None) -> Iterator[Finding]:
    """Whether the log can be written, and for how long."""
    path = log_path or default_log_path()
    folder = path.parent
    while not folder.exists():
        folder = folder.parent
    if path.exists():
        try:
            with RunLog(path, create=False) as log:
                runs = len(log.runs())
                with log.writing():
                    pass
        except LogError as why:
            yield wrong("log", f"{why}.")
            return
        yield ok("log", f"{path} can be written; runs in it: {runs}.")
    elif os.access(folder, os.W_OK | os.X_OK):
        yield ok("log", f"{path} can be made; there is none yet.")
    else:
        yield wrong(
            "log", f"{path} cannot be made: {folder} may not be written. Set path in [log]."
        )
        return
    free_mb = shutil.disk_usage(folder).free / 1e6
    room = f"{free_mb / 1000.0:.1f} GB free" if free_mb >= 1000.0 else f"{free_mb:.0f} MB free"
    if free_mb < TOO_LITTLE_MB:
        yield wrong("disk", f"{room} beside the log: make room, or the run is not kept.")
    elif free_mb < LITTLE_MB:
        yield look("disk", f"{room} beside the log: enough for some batches.")
    else:
        yield ok("disk", f"{room} beside the log.")


def of_page(page: PageConfig, usual_port: int) -> Finding:
    """Whether the page can be served, or is being served.

    Args:
        page: the page as configured.
        usual_port: the port it takes where none is configured.
    """
    if not page.enabled:
        return ok("page", "Switched off in [page].")
    port = usual_port if page.port is None else page.port
    where = f"{page.host}, port {port}"
    family = socket.AF_INET6 if ":" in page.host else socket.AF_INET
    with socket.socket(family) as door:
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            door.bind((page.host, port))
        except PermissionError:
            return wrong("page", f"{where}: this user may not take it; choose a port above 1023.")
        except OSError as why:
            taken = _answers(page.host, port)
            if taken is None:
                return wrong("page", f"{where} cannot be had: {why.strerror or why}.")
            if taken:
                return ok("page", f"A page answers at {where}: rigmon may be watching already.")
            if page.port is None:
                return ok(
                    "page", f"{where} is held by another program: the next free one is taken."
                )
            return wrong("page", f"{where} is held by another program: set another in [page].")
    return ok("page", f"{where} is free for it.")


def _answers(host: str, port: int) -> bool | None:
    """Whether whoever holds a port speaks HTTP; None where nobody holds it."""
    try:
        with socket.create_connection((host, port), _PATIENCE_S) as peer:
            peer.settimeout(_PATIENCE_S)
            peer.sendall(f"HEAD / HTTP/1.1\r\nHost: {host}:{port}\r\n\r\n".encode())
            return peer.recv(16).startswith(b"HTTP/")
    except ConnectionRefusedError:
        return None
    except OSError:
        return False


def of_calibrations(log_path: Path | None, rig: Rig) -> Iterator[Finding]:
    """What is known of the probes, and what past mixes say of it."""
    path = log_path or default_log_path()
    thermometers = [p for p in rig.setup.probes if p.sits_in in (Place.BATH, Place.MIX)]
    if rig.virtual:
        return
    since = float("-inf")
    found: tuple[Correction, ...] = ()
    say: MixesSay | None = None
    if path.exists():
        try:
            with RunLog(path, create=False) as log:
                found = corrections(log, rig)
                of_mix = [one for one in found if one.probe.sits_in is Place.MIX]
                since = max((one.at_unix for one in of_mix), default=since)
                say = mixes_say(log, rig.setup.id, since)
        except LogError:
            return
    for one in found:
        text = f"{one.probe.name} is corrected by {correction_words(one.probe)} since "
        yield ok("calibrated", f"{text}{day(one.at_unix)}.")
    known = {one.probe.name for one in found}
    missing = [p.name for p in thermometers if p.name not in known and p.offset_k == 0.0]
    if missing:
        yield look(
            "calibrated",
            f"Never done of {' and '.join(missing)}: an ice point takes five minutes, `rigmon "
            "calibrate ice`.",
        )
    if say is not None and say.certain:
        yield look(
            "calibrated", f"{say.text('the mix probe')}: calibrate it, or look at the recipe."
        )


def of_forecast(rig: Rig) -> Iterator[Finding]:
    """A forecast, dry: a bath and a mix that are made up, through this rig's own estimator."""
    if rig.recipe is None:
        yield look(
            "recipe",
            "None: temperatures and bath are watched, but not the frozen share. Name one with "
            'recipe = "custard.toml".',
        )
    elif rig.recipe.composition is not None:
        curve = freezing_curve(rig.recipe.composition)
        yield ok("recipe", f"{rig.recipe.name} begins to freeze at {temperature(curve.initial_c)}.")
    places = {probe.sits_in: probe.name for probe in rig.setup.probes}
    bath, mix = places.get(Place.BATH, "bath"), places.get(Place.MIX, "mix")
    begun = time.perf_counter()
    try:
        estimator = Estimator(rig.recipe, rig.setup, rig.prior, rig.seed)
        estimator.place_probe(bath, Place.BATH)
        estimator.place_probe(mix, Place.MIX)
        estimator.feed(Mark(0.0, MarkWord.ICE_IN, detail={"ice_g": 2600.0, "salt_g": 650.0}))
        estimator.feed(Mark(1.0, MarkWord.POUR, detail={"mix_g": 1000.0}))
        estimator.feed(Mark(2.0, MarkWord.BEAT_START))
        for t in range(3, _DRY_S):
            estimator.feed(Reading(float(t), bath, -16.0))
            estimator.feed(Reading(float(t), mix, max(4.0 - 0.03 * t, -1.8)))
            if t % 5 == 0:
                estimator.at(float(t))
        fed_s = time.perf_counter()
        forecasts = estimator.forecast(float(_DRY_S))
    except (RigmonError, ValueError) as why:
        yield wrong("forecast", f"None can be made with this recipe and rig: {why}")
        return
    took_s = time.perf_counter() - fed_s
    made = [one.event.value for one in forecasts if one.p50 is not None or one.p10 is not None]
    per_min_s = (fed_s - begun) / (_DRY_S / 60.0)
    what = f"A dry run gives {', '.join(made) or 'nothing'} in {took_s:.2f} s"
    if took_s > SLOW_FORECAST_S or per_min_s > 30.0:
        yield look("forecast", f"{what}, and {per_min_s:.0f} s for a minute's readings: too slow.")
    elif not made:
        yield look("forecast", f"{what}: a recipe and both probes are needed.")
    else:
        yield ok("forecast", f"{what}.")
