"""How a person likes to see things, kept in a cookie of their browser."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal, get_args

from roomwright.commissioning.lengths import Units

Naming = Literal["bs2051", "iec", "english"]

COOKIE: Final = "roomwright-likes"


@dataclass(frozen=True, slots=True)
class Preferences:
    """Dark or light (None: as the browser prefers), units of length, names of channels."""

    dark: bool | None = None
    units: Units = "m"
    naming: Naming = "bs2051"

    def cookie(self) -> str:
        """The cookie's value."""
        return f"{'light' if self.dark is False else 'dark'}.{self.units}.{self.naming}"

    @classmethod
    def from_cookies(cls, cookies: Mapping[str, str]) -> Preferences:
        """Read a browser's cookies; what they do not say, or say wrong, is as by default."""
        words = set(cookies.get(COOKIE, "").split("."))
        units: Units = next((u for u in get_args(Units) if u in words), "m")
        naming: Naming = next((n for n in get_args(Naming) if n in words), "bs2051")
        dark = False if "light" in words else True if "dark" in words else None
        return cls(dark, units, naming)
