"""How a batch is scored once it has been tasted: one figure, its meaning fixed in words."""

from __future__ import annotations

from collections.abc import Mapping

TEXTURES: Mapping[int, str] = {
    1: "coarse: ice crunches between the teeth",
    2: "icy: crystals are felt on the tongue at once",
    3: "slightly icy: crystals are felt when it is pressed against the palate",
    4: "smooth: no crystals felt, not quite creamy",
    5: "silky: no crystals felt, melts evenly",
}
"""Five steps, each told by what is felt (common practice, no source; crystals are felt from about
50 µm on)."""
LEAST, MOST = min(TEXTURES), max(TEXTURES)
