"""Each field: what it reads, and what it says of what it does not read."""

from datetime import date

import pytest
from marshmallow import Schema, ValidationError, validate

from service.schemas.fields import (
    DecimalNumber,
    IsoDate,
    Length,
    Name,
    OneOf,
    SeasonWord,
    Slug,
    StrictBool,
    WholeNumber,
)
from service.schemas.garden import Country, MonthDay, TimeZone
from service.schemas.plan import Share
from service.schemas.words import did_you_mean, shown, suggestions

COUNT = WholeNumber(1, 1_000_000)
DAYS = WholeNumber(0, 365)
FLOW = DecimalNumber(0, 1000, above=True)
LATITUDE = DecimalNumber(-90, 90)
KIND = OneOf(("ground", "raised", "raw_manure"))

READ = [
    (COUNT, 1, 1),
    (COUNT, 25.0, 25),
    (DAYS, 0, 0),
    (LATITUDE, -90, -90.0),
    (LATITUDE, 46.2, 46.2),
    (FLOW, 0.1, 0.1),
    (StrictBool(), False, False),
    (IsoDate(), "1900-01-01", date(1900, 1, 1)),
    (IsoDate(), "2199-12-31", date(2199, 12, 31)),
    (IsoDate(), "2028-02-29", date(2028, 2, 29)),
    (Length(), 300, 300.0),
    (Length(), 1, 1.0),
    (Length(), "10 ft", 304.8),
    (Length(), "10ft", 304.8),
    (Length(), "118 in", 299.72),
    (Length(), "3 m", 300.0),
    (Length(), "120 cm", 120.0),
    (Length(), "1200 mm", 120.0),
    (Length(), "4 ft 6 in", 137.16),
    (Length(), "4'6\"", 137.16),
    (Length(), "2 Feet", 60.96),
    (Length(), "1.5 metres", 150.0),
    (MonthDay(), "05-04", (5, 4)),
    (MonthDay(), "12-31", (12, 31)),
    (SeasonWord(), "2027", "2027"),
    (SeasonWord(), 2027, "2027"),
    (SeasonWord(), 2027.0, "2027"),
    (SeasonWord(), "2027-Fall", "2027-autumn"),
    (SeasonWord(), "2027-winter", "2027-winter"),
    (KIND, "Raised", "raised"),
    (KIND, "raw manure", "raw_manure"),
    (KIND, "Raw-Manure", "raw_manure"),
    (Name(), "  Brussels sprouts ", "Brussels sprouts"),
    (Name(), "Pé-tsaï", "Pé-tsaï"),
    (Name(), "x" * 80, "x" * 80),
    (Slug(), "kiln-bed_2.a", "kiln-bed_2.a"),
    (Slug(), 7, "7"),
    (Slug(), "a" * 64, "a" * 64),
    (Country(), "us-ca", "US-CA"),
    (TimeZone(), "Europe/Paris", "Europe/Paris"),
    (Share(), [0, 0.5], (0.0, 0.5)),
    (Share(), [0.25, 1], (0.25, 1.0)),
]


@pytest.mark.parametrize(("field", "value", "typed"), READ, ids=lambda value: repr(value)[:30])
def test_a_field_reads(field, value, typed):
    found = field.deserialize(value)
    assert found == typed
    assert type(found) is type(typed)


REFUSED = [
    (COUNT, 2.7, "must be a whole number, 1 or more; got 2.7"),
    (COUNT, 0, "1 or more; got 0"),
    (COUNT, "3", "must be a whole number, 1 or more; got '3'"),
    (COUNT, True, "got true"),
    (COUNT, 10**7, "from 1 to 1,000,000; got 10,000,000"),
    (COUNT, float("inf"), "whole number"),
    (COUNT, [1], "got a list"),
    (DAYS, 366, "must be a whole number, from 0 to 365; got 366"),
    (WholeNumber(1, 1), 2, "must be 1; got 2"),
    (LATITUDE, 90.5, "must be a number from -90 to 90; got 90.5"),
    (LATITUDE, "46", "must be a number from -90 to 90; got '46'"),
    (LATITUDE, True, "got true"),
    (LATITUDE, float("nan"), "must be a number"),
    (LATITUDE, float("inf"), "must be a number"),
    (FLOW, 0, "more than 0 and at most 1,000; got 0"),
    (StrictBool(), 1, "must be true or false; got 1"),
    (StrictBool(), "yes", "must be true or false; got 'yes'"),
    (IsoDate(), "2027-4-20", "YYYY-MM-DD"),
    (IsoDate(), "20270420", "YYYY-MM-DD"),
    (IsoDate(), "2026-W20-1", "YYYY-MM-DD"),
    (IsoDate(), "2027-04-20T00:00", "YYYY-MM-DD"),
    (IsoDate(), " 2027-04-2", "YYYY-MM-DD"),
    (IsoDate(), "２０２７-04-20", "YYYY-MM-DD"),
    (IsoDate(), 20270420, "YYYY-MM-DD"),
    (IsoDate(), "2027-02-29", "must be a date that exists; got '2027-02-29'"),
    (IsoDate(), "1899-12-31", "between 1900 and 2199"),
    (IsoDate(), "2200-01-01", "between 1900 and 2199"),
    (Length(), "300", "text with a unit (mm, cm, m, in, ft)"),
    (Length(), "3 yards", "(mm, cm, m, in, ft), such as '10 ft'; got '3 yards'"),
    (Length(), "3 m 6 in", "text with a unit"),
    (Length(), "3 m\n", "text with a unit"),
    (Length(), "3 metreſ", "text with a unit"),
    (Length(), 0.5, "from 1 cm to 1 km; got 0.5"),
    (Length(), "5 mm", "from 1 cm to 1 km; got '5 mm'"),
    (Length(), 100_001, "from 1 cm to 1 km"),
    (Length(), True, "got true"),
    (Length(), float("nan"), "from 1 cm to 1 km"),
    (MonthDay(), "13-01", "MM-DD"),
    (MonthDay(), "04-31", "MM-DD"),
    (MonthDay(), "02-29", "MM-DD"),
    (MonthDay(), "5-4", "MM-DD"),
    (MonthDay(), 5.04, "MM-DD"),
    (SeasonWord(), "spring 2027", "such as 2027 or 2027-spring"),
    (SeasonWord(), "2027-ſpring", "such as 2027 or 2027-spring"),
    (SeasonWord(), "2027\n", "such as 2027 or 2027-spring"),
    (SeasonWord(), 1850, "such as 2027"),
    (SeasonWord(), True, "got true"),
    (KIND, "raisd", "must be one of ground, raised, raw_manure; got 'raisd'; did you mean 'raised'?"),
    (KIND, "attic", "got 'attic'"),
    (KIND, 1, "must be one of"),
    (Name(), "", "must not be empty"),
    (Name(), "   ", "must not be empty"),
    (Name(), "x" * 81, "at most 80 characters; got 81"),
    (Name(), "kale\x00", "must not hold control characters; got 'kale?'"),
    (Name(), "kale\n", "must not hold control characters"),
    (Name(), "kale\u202e", "must not hold control characters"),
    (Name(), "\ud800", "must not hold control characters"),
    (Name(), 12, "must be text; got 12"),
    (Slug(), "", "must be an id"),
    (Slug(), "-a", "must be an id"),
    (Slug(), "a b", "must be an id"),
    (Slug(), "a\n", "must be an id"),
    (Slug(), "a" * 65, "must be an id"),
    (Slug(), "../x", "must be an id"),
    (Slug(), -1, "must be an id"),
    (Slug(), True, "must be an id"),
    (Country(), "France", "ISO 3166"),
    (TimeZone(), "Europe/Pariss", "did you mean 'Europe/Paris'?"),
    (TimeZone(), "Europe", "must be a time zone"),
    (TimeZone(), "../../etc/passwd", "must be a time zone"),
    (TimeZone(), "/etc/passwd", "must be a time zone"),
    (TimeZone(), "Europe/Paris\x00", "must be a time zone"),
    (TimeZone(), "a" * 5000, "must be a time zone"),
    (TimeZone(), 1, "must be a time zone"),
    (
        Share(),
        [0.5, 0.5],
        "must be two numbers from 0 to 1, the smaller first, such as [0, 0.5]; got [0.5, 0.5]",
    ),
    (Share(), [0.5, 0], "the smaller first"),
    (Share(), [0, 1.1], "from 0 to 1"),
    (Share(), [False, True], "got [false, true]"),
    (Share(), [0, 0.5, 1], "two numbers"),
    (Share(), 0.5, "got 0.5"),
]


@pytest.mark.parametrize(("field", "value", "words"), REFUSED, ids=lambda value: repr(value)[:30])
def test_a_field_refuses_and_says_what_is_right(field, value, words):
    with pytest.raises(ValidationError) as refused:
        field.deserialize(value)
    (message,) = refused.value.messages
    assert words in message
    message.encode("utf-8")  # half characters never reach an answer
    assert "\n" not in message
    assert len(message) < 220


def test_messages_begin_with_the_key_as_written():
    schema = Schema.from_dict({"count": WholeNumber(1, 9), "from_": IsoDate(data_key="from")})()
    assert schema.validate({"count": 2.7, "from": "soon"}) == {
        "count": ["count must be a whole number, from 1 to 9; got 2.7"],
        "from": ["from must be a date written YYYY-MM-DD, such as 2027-04-20; got 'soon'"],
    }


def test_a_validator_of_ones_own_is_run_after_the_field_and_noticed():
    even = WholeNumber(1, 9, validate=validate.OneOf([2, 4]))
    assert even.deserialize(2) == 2
    assert not even.only_own
    assert WholeNumber(1, 9).only_own
    with pytest.raises(ValidationError, match="Must be one of"):
        even.deserialize(3)


def test_declared_validators_agree_with_what_is_read():
    """Whatever a field reads passes the bounds that the API document is written from."""
    for field, value, typed in READ:
        for validator in field.validators:
            assert validator(typed) == typed, (field, value)


def test_suggestions_stop_after_the_number_allowed():
    with suggestions(2):
        hints = [did_you_mean("lenght", ["length", "width"]) for _ in range(3)]
    assert hints == ["; did you mean 'length'?"] * 2 + [""]
    assert did_you_mean("lenght", ["length"]) == "; did you mean 'length'?"
    assert did_you_mean("zzzz", ["length"]) == ""


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (None, "nothing"),
        (True, "true"),
        (12_345, "12,345"),
        (2.5, "2.5"),
        ("a\tb", "'a?b'"),
        ("x" * 50, "'" + "x" * 37 + "...'"),
        ({}, "a group of keys"),
        ([[]], "a list"),
    ],
)
def test_values_are_quoted_short_and_on_one_line(value, words):
    assert shown(value) == words
