"""Where the page's keys lie, so that an address stays good from evening to evening."""

from __future__ import annotations

import json
import os
from pathlib import Path

from rigmon.outlets.page.keys import Keys, new_key
from rigmon.store.log import default_log_path

FILE = "page-keys.json"
_LENGTH = len(new_key())


def kept_keys(folder: Path | None = None) -> tuple[Keys, Path | None]:
    """The keys of this user's page, made when they are first asked for.

    Args:
        folder: where they lie; None for the place where the log usually lies.

    Returns:
        A full key and a guests' key; and their file, None where it cannot be used, so that they
        are good for this once.
    """
    path = (folder or default_log_path().parent) / FILE
    try:
        said = json.loads(path.read_text("utf-8"))
        full, guest = said["full"], said["guest"]
        # Somebody else may have been able to read them, or to put them there.
        private = path.stat().st_uid == os.getuid() and not path.stat().st_mode & 0o077
        if private and all(isinstance(key, str) and len(key) == _LENGTH for key in (full, guest)):
            return Keys(full, guest), path
    except (OSError, ValueError, KeyError, TypeError):
        pass
    return _made(path)


def _made(path: Path) -> tuple[Keys, Path | None]:
    keys = Keys(new_key(), new_key())
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.unlink(missing_ok=True)
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
            json.dump({"full": keys.full, "guest": keys.guest}, file)
    except OSError:
        return keys, None
    return keys, path
