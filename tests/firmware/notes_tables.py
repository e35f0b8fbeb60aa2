"""The table of the notes that the program's own code reckons; run as a module it rewrites it.

`python -m tests.firmware.notes_tables`, from the top.
"""

from __future__ import annotations

import re
from pathlib import Path

from rigmon.probes import emf_mv, seebeck_uv_per_k, straight_line_c, temperature_c
from rigmon.probes.converter import SENSITIVITY_UV_PER_K

PAGE = Path(__file__).parents[2] / "firmware_notes" / "probes.md"
BLOCK = re.compile(r"(<!-- reckoned: errors -->\n).*?(<!-- /reckoned -->)", re.DOTALL)
TRUE_C = (-21.0, -15.0, -10.0, -3.0, 0.0, 4.0, 20.0, 72.0)
KINDS = ("T", "K")
BOARD_C = 25.0
STEP_K = 0.25
OFFSET_UV = 10.0


def _signed(number: float, digits: int = 1) -> str:
    text = f"{number:+.{digits}f}".replace("-", "−")
    return text[1:] if float(number.__format__(f".{digits}f")) == 0.0 else text


def errors_table() -> str:
    """What a straight-line chip makes of T and K, and how fine and how shaky its steps are."""
    rows = [
        "| true °C |" + "".join(f" {kind} reads | off by, K |" for kind in KINDS),
        "| ---: |" + " ---: |" * (2 * len(KINDS)),
    ]
    for true_c in TRUE_C:
        cells = [_plain(true_c)]
        for kind in KINDS:
            read_c = straight_line_c(true_c, BOARD_C, kind)
            cells += [_plain(read_c, 1), _signed(read_c - true_c)]
        rows.append(f"| {' | '.join(cells)} |")
    return "\n".join([*rows, "", _steps()])


def _plain(number: float, digits: int = 0) -> str:
    return f"{number:.{digits}f}".replace("-", "−")


def _steps() -> str:
    said = []
    for kind in KINDS:
        step_k = STEP_K * SENSITIVITY_UV_PER_K[kind] / seebeck_uv_per_k(-15.0, kind)
        emf = emf_mv(-15.0, kind)
        offset_k = temperature_c(emf + OFFSET_UV / 1000.0, kind) + 15.0
        cool_c, warm_c = (straight_line_c(-15.0, BOARD_C + more, kind) for more in (0.0, 10.0))
        said.append(
            f"- Type {kind} at −15 °C: a board 10 K warmer adds {warm_c - cool_c:.1f} K; one step"
            f" of the\n  chip is {step_k:.2f} K; {OFFSET_UV:g} µV in a bad plug are"
            f" {offset_k:.2f} K."
        )
    return "\n".join(said)


def rewritten(page: str) -> str:
    """The page with its table as the program reckons it now."""
    return BLOCK.sub(lambda block: f"{block[1]}\n{errors_table()}\n\n{block[2]}", page)


if __name__ == "__main__":
    PAGE.write_text(rewritten(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
