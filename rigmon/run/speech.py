"""How the maker is spoken to: the language, and the units of temperatures and masses."""

from __future__ import annotations

from dataclasses import dataclass

from rigmon.physics.brine import bulk_density_g_ml
from rigmon.texts import DECIMAL_POINT, Language, Sentence, marked, translated
from rigmon.units import (
    GRAMS_PER_OUNCE,
    Celsius,
    Figure,
    MassUnit,
    TemperatureUnit,
    mass,
    temperature,
)

_QUARTERS = ("", "¼", "½", "¾")
_KELVIN_PER_DEGREE = {"C": 1.0, "F": 5.0 / 9.0}
MINUTES, A_MINUTE = marked("{n} min"), marked("a minute")


@dataclass(frozen=True, slots=True)
class Speech:
    """The maker's language and units.

    Args:
        language: of all words.
        temperature_unit: of temperatures.
        mass_unit: of masses; with ounces go cups.
        cup_ml: size of a cup [ml].
    """

    language: Language = "en"
    temperature_unit: TemperatureUnit = "C"
    mass_unit: MassUnit = "g"
    cup_ml: float = 240.0

    def say(self, text: str, /, **figures: object) -> str:
        """A text of the program in the maker's language, with its figures."""
        return translated(text, self.language).format(**figures)

    def retold(self, sentence: str) -> str:
        """What another room has found, in the maker's language and units; other text as it is.

        >>> Speech("de").retold(Sentence(marked("nothing is resting")))
        'nichts ruht'
        """
        if not isinstance(sentence, Sentence):
            return sentence
        figures = {name: self._own(figure) for name, figure in sentence.figures.items()}
        return self.say(sentence.text, **figures)

    def _own(self, figure: object) -> object:
        match figure:
            case Sentence():
                return self.retold(figure)
            case Celsius():
                return self.temperature(figure.c, figure.digits)
            case Figure():
                return self.decimal(figure.value, figure.digits)
        return figure

    def temperature(self, c: float | None, digits: int = 1) -> str:
        """A temperature [°C] as the maker reads it."""
        return self._figure(temperature(c, self.temperature_unit, digits))

    def decimal(self, value: float, digits: int = 1) -> str:
        """A bare figure as the maker writes it.

        >>> Speech("de").decimal(1.84)
        '1,8'
        """
        return self._figure(f"{value:.{digits}f}")

    def kelvin(self, k: float) -> str:
        """A difference of temperatures [K] as the maker reads it.

        >>> Speech().kelvin(2.5), Speech(temperature_unit="F").kelvin(2.5)
        ('2.5 °C', '4.5 °F')
        """
        unit = self.temperature_unit
        return self._figure(f"{k / _KELVIN_PER_DEGREE[unit]:.1f} °{unit}")

    def mass(self, g: float | None) -> str:
        """A mass [g] as the maker reads it."""
        return self._figure(mass(g, self.mass_unit))

    def ice(self, g: float) -> str:
        """Crushed ice [g] as the maker weighs or measures it out.

        >>> Speech().ice(900.0), Speech(mass_unit="oz").ice(900.0)
        ('900 g', '32 oz (6 cups)')
        """
        return self._weighed(g, bulk_density_g_ml("crushed")[1])

    def salt(self, g: float) -> str:
        """Fine salt [g] as the maker weighs or measures it out."""
        return self._weighed(g, bulk_density_g_ml("fine")[1])

    def minutes(self, seconds: float) -> str:
        """A time to go [s].

        >>> Speech().minutes(50), Speech().minutes(340), Speech("de").minutes(50)
        ('a minute', '6 min', 'einer Minute')
        """
        return self.say(A_MINUTE) if seconds < 90 else self.say(MINUTES, n=f"{seconds / 60:.0f}")

    def _weighed(self, g: float, bulk_g_ml: float) -> str:
        if self.mass_unit == "g":
            return f"{g:.0f} g"
        quarters = max(round(4.0 * g / (bulk_g_ml * self.cup_ml)), 1)
        whole, part = divmod(quarters, 4)
        cups = f"{whole or ''}{_QUARTERS[part]}"
        one = quarters <= 4
        text = marked("{oz} oz ({cups} cup)") if one else marked("{oz} oz ({cups} cups)")
        return self.say(text, oz=f"{g / GRAMS_PER_OUNCE:.0f}", cups=cups)

    def _figure(self, text: str) -> str:
        return text.replace(".", DECIMAL_POINT[self.language])
