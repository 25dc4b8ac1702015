"""Fields that read one value strictly and say plainly what is wrong with it.

Each field has one reading function, ``read`` (value in, typed value out, ``Refused`` when it
does not fit), and one ``complaint`` that words the refusal.  The ordinary marshmallow load and
the quick row reader (``service.schemas.rows``) call the same ``read``, so they cannot differ.
Bounds are also declared as marshmallow validators, for the API document.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from marshmallow import ValidationError, fields, validate

from service.schemas.words import (
    LENGTH,
    LONGEST_NAME,
    NOT_ON_ONE_LINE,
    bounds,
    days_meant,
    did_you_mean,
    length_from_text,
    or_did_you_mean,
    seasons_meant,
    shown,
)

FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2199, 12, 31)


class Refused(Exception):
    """A value does not fit its field; the wording is left to ``complaint``."""


class Strict:
    """What all our fields share; mixed into the marshmallow field whose JSON type they have.

    ``by_text`` says that a result may be remembered by the text it was read from.
    """

    by_text = False
    read: Callable[[Any], Any]

    def __init__(self, *own: Any, validate: Any = None, **kwargs: Any) -> None:
        others = [validate] if callable(validate) else list(validate or ())
        self.own = own
        super().__init__(validate=[*own, *others], **kwargs)  # type: ignore[call-arg]

    @property
    def label(self) -> str:
        """The key as people write it."""
        return self.data_key or self.name or "value"  # type: ignore[attr-defined]

    @property
    def only_own(self) -> bool:
        """True when ``read`` alone decides: nobody hung anything else on the field."""
        field: Any = self
        return len(field.validators) == len(self.own) and not field.pre_load and not field.post_load

    def complaint(self, value: Any) -> str:
        """What is wrong with a refused value and what would be right."""
        raise NotImplementedError

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> Any:
        try:
            return self.read(value)
        except Refused:
            raise ValidationError(f"{self.label} {self.complaint(value)}") from None


class WholeNumber(Strict, fields.Integer):
    """A whole number between two bounds; 25.0 is one, 2.7, "3" and true are not."""

    def __init__(self, least: int, most: int, **kwargs: Any) -> None:
        self.least, self.most = least, most
        super().__init__(validate.Range(min=least, max=most), **kwargs)

    def read(self, value: Any) -> int:
        """The number, or ``Refused``."""
        number: int = value
        if type(value) is not int:
            if type(value) is not float or not value.is_integer():
                raise Refused
            number = int(value)
        if self.least <= number <= self.most:
            return number
        raise Refused

    def complaint(self, value: Any) -> str:
        """What is wrong and what would be right."""
        if self.least == self.most:
            return f"must be {self.least}; got {shown(value)}"
        too_big = isinstance(value, int) and value > self.most
        # A bound of a million or more is there to protect the store: not worth a word otherwise.
        words = bounds(self.least, self.most, False)
        if self.most >= 1_000_000 and not too_big:
            words = f"{self.least} or more"
        return f"must be a whole number, {words}; got {shown(value)}"


class DecimalNumber(Strict, fields.Float):
    """A finite number between two bounds (``above``: the lower one excluded); never text."""

    def __init__(self, least: float, most: float, *, above: bool = False, **kwargs: Any) -> None:
        self.least, self.most, self.above = least, most, above
        super().__init__(validate.Range(min=least, max=most, min_inclusive=not above), **kwargs)

    def read(self, value: Any) -> float:
        """The number, or ``Refused``."""
        fits = (type(value) is int or type(value) is float) and self.least <= value <= self.most
        if fits and not (self.above and value == self.least):
            return float(value)
        raise Refused

    def complaint(self, value: Any) -> str:
        """What is wrong and what would be right."""
        return f"must be a number {bounds(self.least, self.most, self.above)}; got {shown(value)}"


class StrictBool(Strict, fields.Boolean):
    """true or false, and no word for them."""

    def read(self, value: Any) -> bool:
        """The truth value, or ``Refused``."""
        if value is True or value is False:
            return value
        raise Refused

    def complaint(self, value: Any) -> str:
        """What is wrong and what would be right."""
        return f"must be true or false; got {shown(value)}"


class IsoDate(Strict, fields.Date):
    """A day written YYYY-MM-DD, from 1900 to 2199."""

    by_text = True

    def read(self, value: Any) -> date:
        """The day, or ``Refused``."""
        # The two hyphens rule out the other ISO forms of ten characters ("2026-W20-1").
        if type(value) is str and len(value) == 10 and value[4] == "-" == value[7]:
            try:
                day = date.fromisoformat(value)
            except ValueError:
                raise Refused from None
            if FIRST_DAY <= day <= LAST_DAY:
                return day
        raise Refused

    def complaint(self, value: Any) -> str:
        """What is wrong and what would be right."""
        if isinstance(value, str) and re.fullmatch("[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
            known = "between 1900 and 2199" if not "1900" <= value[:4] <= "2199" else "that exists"
            return f"must be a date {known}; got {shown(value)}"
        hint = or_did_you_mean(days_meant(value)) if isinstance(value, str) else ""
        return f"must be a date written YYYY-MM-DD, such as 2027-04-20; got {shown(value)}{hint}"


class Text(Strict, fields.String):
    """Text of one form; a subclass sets ``form`` (full match) and ``what``, and may ``change`` it."""

    by_text = True
    form: re.Pattern[str]
    what: str
    numbers: tuple[int, int] | None = None

    def __init__(self, **kwargs: Any) -> None:
        metadata = dict(kwargs.pop("metadata", {}))
        if self.numbers:
            low, high = self.numbers
            metadata = {"type": ["string", "integer"], "minimum": low, "maximum": high, **metadata}
        super().__init__(validate.Regexp(self.form), metadata=metadata, **kwargs)

    def read(self, value: Any) -> str:
        """The text in its one spelling, or ``Refused``."""
        if self.numbers:  # a number is the same text without quotes
            if type(value) is float and value.is_integer():
                value = int(value)
            if type(value) is int and self.numbers[0] <= value <= self.numbers[1]:
                value = str(value)
        if type(value) is str and self.form.fullmatch(value):
            return self.change(value)  # type: ignore[no-any-return]
        raise Refused

    @classmethod
    def pattern(cls) -> str:
        """The form as JSON schema writes it."""
        return cls.form.pattern

    def change(self, text: str) -> Any:
        """The typed form of text that fits."""
        return text

    def complaint(self, value: Any) -> str:
        """What is wrong and what would be right."""
        return f"must be {self.what}; got {shown(value)}"


class Slug(Text):
    """An id: letters, digits, ``_ . -``, at most 64; a bare whole number is read as its text."""

    form = re.compile(r"^[A-Za-z0-9][A-Za-z0-9_.\-]{0,63}$")
    what = "an id of letters, digits, '_', '.' or '-' (64 at most, a letter or digit first)"
    numbers = (0, 10**12)


class SeasonWord(Text):
    """ "2027" or "2027-spring" (summer, autumn or fall, winter), in lower case, fall as autumn."""

    form = re.compile(r"^(19|20|21)[0-9]{2}(-(spring|summer|autumn|fall|winter))?$", re.IGNORECASE | re.ASCII)
    what = "a year or a year and a quarter, such as 2027 or 2027-spring (spring, summer, autumn, winter)"
    numbers = (1900, 2199)

    def change(self, text: str) -> str:
        """The typed form."""
        return text.lower().replace("fall", "autumn")

    def complaint(self, value: Any) -> str:
        """What is wrong and what would be right."""
        return super().complaint(value) + (or_did_you_mean(seasons_meant(value)) if isinstance(value, str) else "")


class Name(Strict, fields.String):
    """Text of 1 to 80 characters on one line; blanks around it are dropped."""

    by_text = True
    _form = re.compile(r"^[^\u0000-\u001f\u007f-\u009f]*[^\s\u0000-\u001f\u007f-\u009f][^\u0000-\u001f\u007f-\u009f]*$")

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(validate.Length(1, LONGEST_NAME), validate.Regexp(self._form), **kwargs)

    def read(self, value: Any) -> str:
        """The text in its one spelling, or ``Refused``."""
        if type(value) is str and len(value) <= LONGEST_NAME:
            text = value.strip()
            if text and (value.isprintable() or not NOT_ON_ONE_LINE.search(value)):
                return text
        raise Refused

    def complaint(self, value: Any) -> str:
        """What is wrong and what would be right."""
        if not isinstance(value, str):
            return f"must be text; got {shown(value)}"
        if not value.strip():
            return "must not be empty"
        if len(value) > LONGEST_NAME:
            return f"must be at most {LONGEST_NAME} characters; got {len(value):,}"
        return f"must not hold control characters; got {shown(value)}"


class OneOf(Strict, fields.String):
    """One of a few words, in any case, with blanks or hyphens for the underscores."""

    by_text = True

    def __init__(self, words: Sequence[str], **kwargs: Any) -> None:
        self.words = tuple(words)
        self._known = {word: word for word in words}
        super().__init__(validate.OneOf(self.words), **kwargs)

    def read(self, value: Any) -> str:
        """The text in its one spelling, or ``Refused``."""
        if type(value) is str and len(value) <= LONGEST_NAME:
            word = self._known.get("_".join(value.lower().replace("-", " ").replace("_", " ").split()))
            if word is not None:
                return word
        raise Refused

    def complaint(self, value: Any) -> str:
        """What is wrong and what would be right."""
        hint = did_you_mean(value, self.words) if isinstance(value, str) else ""
        return f"must be one of {', '.join(self.words)}; got {shown(value)}{hint}"


class Length(Strict, fields.Raw):
    """A length from 1 cm to 1 km as centimetres: a number (cm) or text with its unit ("4 ft 6 in")."""

    least, most = 1.0, 100_000.0

    def __init__(self, **kwargs: Any) -> None:
        forms = [
            {"type": "number", "minimum": self.least, "maximum": self.most},
            {"type": "string", "pattern": LENGTH.pattern},
        ]
        super().__init__(metadata={"anyOf": forms, **kwargs.pop("metadata", {})}, **kwargs)

    def read(self, value: Any) -> float:
        """The centimetres, or ``Refused``."""
        cm = length_from_text(value) if type(value) is str else value
        if (type(cm) is int or type(cm) is float) and self.least <= cm <= self.most:
            return float(cm)
        raise Refused

    def complaint(self, value: Any) -> str:
        """What is wrong and what would be right."""
        outside = length_from_text(value) if isinstance(value, str) else None
        if outside is not None or (isinstance(value, int | float) and not isinstance(value, bool)):
            return f"must be from 1 cm to 1 km; got {shown(value)}"
        return f"must be a number (cm) or text with a unit (mm, cm, m, in, ft), such as '10 ft'; got {shown(value)}"
