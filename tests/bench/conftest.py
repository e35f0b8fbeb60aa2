"""The benches are programs, not tests: nothing here is collected."""

from __future__ import annotations

collect_ignore_glob = ["*.py"]
