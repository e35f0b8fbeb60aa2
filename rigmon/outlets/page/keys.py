"""The keys in the page's address: who has one may see, or see and mark."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from dataclasses import dataclass
from typing import Literal

Rights = Literal["full", "guest"]

_LETTERS = "23456789abcdefghjkmnpqrstuvwxyz"
"""No two of them look alike, so that a key can be typed off the terminal."""
_GROUPS, _GROUP = 4, 4


def new_key() -> str:
    """A key nobody guesses: 16 of 31 letters, 79 bits."""
    groups = ("".join(secrets.choice(_LETTERS) for _ in range(_GROUP)) for _ in range(_GROUPS))
    return "-".join(groups)


@dataclass(frozen=True, slots=True)
class Keys:
    """The keys of one page.

    Args:
        full: opens all; None where everybody who reaches the page may do everything.
        guest: opens the page without its marks; None if there is none.
    """

    full: str | None = None
    guest: str | None = None

    def __repr__(self) -> str:
        """Keys are shown nowhere but in the address."""
        return f"Keys(full={_masked(self.full)}, guest={_masked(self.guest)})"

    @property
    def open(self) -> bool:
        """Whether no key is asked for."""
        return self.full is None

    def rights(self, said: str) -> Rights | None:
        """What a key opens; takes as long for a wrong one, however much of it is right."""
        # Digests are of one length, and say nothing of what was compared.
        digest = hashlib.sha256(said.encode("utf-8", "surrogateescape")).digest()
        full, guest = _is(digest, self.full), _is(digest, self.guest)
        return "full" if full else "guest" if guest else None


def _is(digest: bytes, key: str | None) -> bool:
    wanted = hashlib.sha256((key or "").encode()).digest()
    return hmac.compare_digest(digest, wanted) and key is not None


def _masked(key: str | None) -> str:
    return "None" if key is None else "'…'"
