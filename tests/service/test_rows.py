"""The quick row reader gives what the ordinary marshmallow load gives, and stays out of its way."""

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from marshmallow import ValidationError, fields, post_load, validates

from service.schemas import rows as rows_module
from service.schemas.fields import Name, OneOf, Slug, WholeNumber
from service.schemas.plan import BedSchema, CoverSchema, PlantingSchema, SightingSchema, TreatmentSchema
from service.schemas.rows import EXPLAINED, REMEMBERED, PlainSchema, Rows, Several, quick_reader


def both(schema):
    """The same list read quickly and read plainly."""
    quick = PlainSchema.from_dict({"rows": Rows(schema, most=50)})()
    plain = PlainSchema.from_dict({"rows": fields.List(fields.Nested(schema))})()
    return quick, plain


def outcome(schema, document):
    """Typed data with its exact types, or messages."""
    try:
        return "read", exactly(schema.load(document))
    except ValidationError as error:
        return "refused", error.messages


def exactly(value):
    """A value with its types spelled out, so that 1, 1.0 and True differ."""
    if isinstance(value, dict):
        return {key: exactly(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return (type(value).__name__, [exactly(entry) for entry in value])
    return (type(value).__name__, value)


DAYS = st.sampled_from(["2027-04-20", "2027-09-30", "2027-02-29", "2026-W20-1", "1899-01-01", 20270420])
IDS = st.sampled_from(["kiln", "quay", "p1", "a b", "", 7, 7.0, -1])
NAMES = st.sampled_from(["cabbage", "Leek ", "x" * 80, "x" * 81, "\x00", "  ", 3, 1])
LENGTHS = st.sampled_from([50, 1, True, 0, 300.5, "10 ft", "3 yards", "118 in", "300", float("nan")])
ANYTHING = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-3, 3),
    st.floats(),
    st.text(max_size=5),
    st.lists(st.integers(), max_size=2),
    st.dictionaries(st.text(max_size=3), st.integers(), max_size=2),
)
WORDS = st.sampled_from(["planned", "LOST", "sow", "net", "severe", "raised", "growing", "nett", 1])
NUMBERS = st.sampled_from([1, 1.0, True, 0.8, 3, 2.7, "3", 0, 400, 10**30])
VALUES = {
    "id": IDS,
    "bed": IDS,
    "planting": IDS,
    "start": DAYS,
    "end": DAYS,
    "date": DAYS,
    "first_harvest": DAYS,
    "from": DAYS,
    "until": DAYS,
    "open_by_day_from": DAYS,
    "crop": NAMES,
    "of": NAMES,
    "active": NAMES,
    "cause": NAMES,
    "name": NAMES,
    "status": WORDS,
    "method": WORDS,
    "kind": WORDS,
    "level": WORDS,
    "edges": WORDS,
    "count": NUMBERS,
    "mesh": NUMBERS,
    "harvest_interval": NUMBERS,
    "turn": NUMBERS,
    "spacing": LENGTHS,
    "length": LENGTHS,
    "width": LENGTHS,
    "depth": LENGTHS,
    "season": st.sampled_from(["2027", "2027-Fall", 2027, 2027.0, True, "spring", 27]),
    "part": st.sampled_from([[0, 0.5], [0.5, 0], [0, True], [0], "half", (0, 1)]),
    "plantings": st.lists(IDS, max_size=3),
    "variety": st.fixed_dictionaries(
        {},
        optional={
            "name": NAMES,
            "resists": st.lists(NAMES, max_size=2),
            "parthenocarpic": ANYTHING,
            "x-a": IDS,
        },
    ),
    "irrigation": st.fixed_dictionaries({}, optional={"method": WORDS, "lines": NUMBERS, "emitter_spacing": LENGTHS}),
    "position": st.fixed_dictionaries({}, optional={"x": NUMBERS, "y": NUMBERS, "z": NUMBERS}),
    "soil": st.fixed_dictionaries({}, optional={"ph": NUMBERS, "texture": WORDS}),
    "replaces": st.one_of(
        IDS,
        st.lists(st.one_of(IDS, st.fixed_dictionaries({}, optional={"bed": IDS, "from": DAYS})), max_size=2),
    ),
}
SCHEMAS = [PlantingSchema, BedSchema, CoverSchema, SightingSchema, TreatmentSchema]
PAIRS = {schema: both(schema) for schema in SCHEMAS}


def rows_of(schema):
    """Rows of a schema's own keys, mostly fitting, with odd values, odd keys and odd rows among them."""
    keys = [field.data_key or name for name, field in schema().fields.items()]
    optional = {key: st.one_of(VALUES[key], VALUES[key], st.none(), ANYTHING) for key in keys}
    optional |= {"x-note": ANYTHING, "lenght": ANYTHING, "_schema": ANYTHING}
    row = st.fixed_dictionaries({}, optional=optional)
    return st.lists(st.one_of(row, row, row, row, ANYTHING), max_size=4)


@given(data=st.data())
@settings(max_examples=400, deadline=None)
def test_quick_and_plain_agree_on_values_and_errors(data):
    schema = data.draw(st.sampled_from(SCHEMAS))
    quick, plain = PAIRS[schema]
    document = {"rows": data.draw(rows_of(schema))}
    expected = outcome(plain, document)
    assert outcome(quick, document) == expected
    assert outcome(quick, document) == expected  # and again, now that texts are remembered


@given(data=st.data())
@settings(max_examples=150, deadline=None)
def test_quick_and_plain_agree_on_one_odd_value_in_a_good_row(data):
    quick, plain = PAIRS[PlantingSchema]
    row = dict(GOOD)
    row[data.draw(st.sampled_from(list(row)))] = data.draw(ANYTHING)
    document = {"rows": [dict(GOOD), row, dict(GOOD)]}
    assert outcome(quick, document) == outcome(plain, document)


GOOD = {
    "id": "p1",
    "bed": "kiln",
    "crop": "cabbage",
    "start": "2027-04-20",
    "end": "2027-09-30",
    "status": "planned",
    "method": "transplant",
    "count": 8,
    "spacing": 50,
    "part": [0, 0.5],
    "season": "2027-spring",
    "variety": {"name": "Early", "resists": ["clubroot"]},
}


def test_good_rows_never_reach_the_ordinary_load(monkeypatch):
    quick, _ = both(PlantingSchema)
    monkeypatch.setattr(fields.Nested, "deserialize", lambda *a, **k: pytest.fail("a good row was loaded"))
    good = [
        dict(GOOD),
        {**GOOD, "x-mine": [1], "cause": None},
        {"bed": "quay", "crop": "leek", "season": 2027},
    ]
    typed = quick.load({"rows": good})["rows"]
    assert typed[0]["end"] == date(2027, 9, 30)
    assert typed[0] == typed[1]
    assert typed[2] == {"bed": "quay", "crop": "leek", "season": "2027"}


def test_a_mapping_of_very_many_keys_is_refused_whole():
    quick, plain = both(SightingSchema)
    for prefix in ("k", "x-"):
        row = {"bed": "kiln", "date": "2025-07-01", "of": "slugs", **{f"{prefix}{n}": 1 for n in range(98)}}
        assert outcome(quick, {"rows": [row]}) == outcome(plain, {"rows": [row]})
        assert quick.validate({"rows": [row]}) == {"rows": {0: {"_schema": ["must have at most 100 keys; got 101"]}}}


def test_true_is_not_one_even_when_one_was_read_before():
    quick, _ = both(PlantingSchema)
    for value in (1, "1"):
        quick.load({"rows": [{"bed": value, "crop": "leek", "count": 1}]})
    messages = quick.validate({"rows": [{"bed": True, "crop": "leek", "count": True}]})
    assert set(messages["rows"][0]) == {"bed", "count"}


def test_bad_rows_keep_the_places_of_the_others():
    quick, _ = both(SightingSchema)
    good = {"bed": "kiln", "date": "2025-07-01", "of": "clubroot"}
    with pytest.raises(ValidationError) as refused:
        quick.load({"rows": [None, good, 5, {"bed": "kiln", "date": "soon"}]})
    assert set(refused.value.messages["rows"]) == {0, 2, 3}
    read = refused.value.valid_data["rows"]
    assert [row.get("bed") for row in read] == [None, "kiln", None, "kiln"]


def test_a_list_too_long_is_refused_without_reading_it():
    schema = PlainSchema.from_dict({"rows": Rows(SightingSchema, most=2), "names": Several(Name(), most=1)})()
    assert schema.validate({"rows": [{}] * 3, "names": [1, 2]}) == {
        "rows": ["rows must have at most 2 entries; got 3"],
        "names": ["names must have at most 1 entries; got 2"],
    }


def test_beyond_some_hundred_bad_rows_the_rest_is_only_counted():
    schema = PlainSchema.from_dict({"rows": Rows(SightingSchema, most=EXPLAINED + 3)})()
    good = {"bed": "kiln", "date": "2025-07-01", "of": "clubroot"}
    with pytest.raises(ValidationError) as refused:
        schema.load({"rows": [{}] * (EXPLAINED + 1) + [good, {}]})
    messages = refused.value.messages["rows"]
    assert set(messages[EXPLAINED - 1]) == {"bed", "date", "of"}
    assert (
        messages[EXPLAINED] == messages[EXPLAINED + 2] == [f"not looked at, as {EXPLAINED} entries before it are wrong"]
    )
    assert refused.value.valid_data["rows"][EXPLAINED + 1]["of"] == "clubroot"


class Shouted(PlainSchema):
    id = Slug(required=True)

    @post_load
    def shout(self, data, **kwargs):
        return {**data, "id": data["id"].upper()}


class Watched(PlainSchema):
    id = Slug(required=True)

    @validates("id")
    def not_seven(self, value, data_key):
        if value == "7":
            raise ValidationError("not seven")


class Filled(PlainSchema):
    id = Slug(required=True)
    kind = OneOf(("a", "b"), load_default="a")


class Renamed(PlainSchema):
    id = Slug(required=True, attribute="key")


class Fussy(PlainSchema):
    id = Slug(required=True)
    count = WholeNumber(1, 9, validate=lambda value: (_ for _ in ()).throw(ValidationError("never")))
    stock = fields.Integer()


@pytest.mark.parametrize("schema", [Shouted, Watched, Filled, Renamed])
def test_schemas_with_habits_of_their_own_are_always_loaded(schema):
    assert quick_reader(schema()) is None
    quick, plain = both(schema)
    for row in ({"id": "a"}, {"id": "7"}, {"id": 7}, {}):
        assert outcome(quick, {"rows": [row]}) == outcome(plain, {"rows": [row]})


@pytest.mark.parametrize("row", [{"id": "a"}, {"id": "a", "count": 3}, {"id": "a", "stock": "5"}])
def test_a_key_without_a_quick_reader_sends_its_row_through_the_load(row):
    quick, plain = both(Fussy)
    assert outcome(quick, {"rows": [row]}) == outcome(plain, {"rows": [row]})


def test_a_partial_load_is_the_ordinary_one():
    quick, plain = both(SightingSchema)
    assert quick.load({"rows": [{"of": "slugs"}]}, partial=True) == plain.load(
        {"rows": [{"of": "slugs"}]}, partial=True
    )


def test_what_is_remembered_is_bounded():
    column = rows_module._Remembered(Slug().read)
    for number in range(REMEMBERED * 2 + 5):
        assert column[f"p{number}"] == f"p{number}"
    assert len(column) <= REMEMBERED
    assert column[7] == "7"
    assert 7 not in column
