"""Lengths in the garden's own units, as people say them."""

from __future__ import annotations

CM_PER_INCH = 2.54


def length(cm: float, units: str) -> str:
    """A length: "189 cm" and "3.10 m", or "6 ft 2 in".

    >>> length(188.6, "metric"), length(310, "metric"), length(188.5, "imperial")
    ('189 cm', '3.10 m', '6 ft 2 in')
    """
    if units == "imperial":
        inches = round(cm / CM_PER_INCH)
        feet, rest = divmod(inches, 12)
        if not feet:
            return f"{rest} in"
        return f"{feet} ft {rest} in" if rest else f"{feet} ft"
    return f"{cm / 100:.2f} m" if cm >= 200 else f"{cm:.0f} cm"


def area(m2: float, units: str) -> str:
    """An area: "5.8 m2" or "62 sq ft"."""
    return f"{m2 * 10.7639:.0f} sq ft" if units == "imperial" else f"{m2:.1f} m2"
