"""What a mark says went into the bath: weighed, scooped, as usual, or nobody knows."""

from __future__ import annotations

from dataclasses import dataclass

from rigmon.records import IceKind, Mark, MarkWord, RigSetup


@dataclass(frozen=True, slots=True)
class Amounts:
    """What went into the outer bowl at once, and what was poured off before.

    Args:
        ice_g: ice, the water clinging to it included [g]; None if it was not weighed.
        salt_g: salt [g]; None if it was not weighed.
        water_g: water [g].
        drained_g: brine poured off first [g].
        ice_c: temperature of the ice [°C]; None if nobody said.
        wet_share: water clinging to the ice, share of its mass; None if nobody said.
        ice_kind: form of the ice; None if nobody said.
    """

    ice_g: float | None
    salt_g: float | None
    water_g: float = 0.0
    drained_g: float = 0.0
    ice_c: float | None = None
    wet_share: float | None = None
    ice_kind: IceKind | None = None


def amounts_of(mark: Mark, rig: RigSetup) -> Amounts:
    """The amounts of an `ice-in` or a `recharge`.

    What an `ice-in` does not name went in as usual. A `recharge` that names anything names all;
    a bare one says that ice and salt went in, and not how much.

    >>> amounts_of(Mark(0.0, MarkWord.RECHARGE, detail={"salt_g": 90.0}), RigSetup()).ice_g
    0.0
    """
    said = {key: value for key, value in mark.detail.items() if not isinstance(value, str)}
    ice_g, salt_g, water_g = said.get("ice_g"), said.get("salt_g"), said.get("water_g")
    scoops = said.get("ice_scoops")
    if ice_g is None and scoops is not None and rig.scoop_g is not None:
        ice_g = scoops * rig.scoop_g
    if mark.word is MarkWord.ICE_IN:
        ice_g = rig.bath.ice_g if ice_g is None and scoops is None else ice_g
        salt_g = rig.bath.salt_g if salt_g is None else salt_g
        water_g = rig.bath.water_g if water_g is None else water_g
    elif said.keys() & {"ice_g", "salt_g", "water_g", "drained_g", "ice_scoops"}:
        ice_g = 0.0 if ice_g is None and scoops is None else ice_g
        salt_g = salt_g or 0.0
    wet_pct, kind = said.get("wet_pct"), mark.detail.get("ice_kind")
    return Amounts(
        ice_g=ice_g,
        salt_g=salt_g,
        water_g=water_g or 0.0,
        drained_g=said.get("drained_g", 0.0),
        ice_c=said.get("ice_c"),
        wet_share=None if wet_pct is None else min(wet_pct, 100.0) / 100.0,
        ice_kind=None if kind is None else IceKind(str(kind)),
    )
