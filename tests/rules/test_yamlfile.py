"""The narrow YAML that facts, rules, overlays and plans are written in."""

import pytest

from rules.knowledge.yamlfile import MAX_DEPTH, YamlError, escape, load


def refused(text, name="plan.yaml", **how):
    with pytest.raises(YamlError) as caught:
        load(text, name, **how)
    return caught.value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("a: true", True),
        ("a: false", False),
        ("a: null", None),
        ("a: ~", None),
        ("a:", None),
        ("a: 12", 12),
        ("a: -3", -3),
        ("a: +3", 3),
        ("a: 0", 0),
        ("a: 2.5", 2.5),
        ("a: 1e3", 1000.0),
        ("a: 007", 7.0),
        ("a: no", "no"),
        ("a: yes", "yes"),
        ("a: on", "on"),
        ("a: True", "True"),
        ("a: NULL", "NULL"),
        ("a: 2027-04-20", "2027-04-20"),
        ("a: 2027-spring", "2027-spring"),
        ("a: 12:30", "12:30"),
        ("a: 0x1f", "0x1f"),
        ("a: .inf", ".inf"),
        ("a: .nan", ".nan"),
        ("a: 1_000", "1_000"),
        ("a: '12'", "12"),
        ('a: "true"', "true"),
        ("a: |\n  12\n", "12\n"),
        ("a: >-\n  null\n", "null"),
        ("a: ''", ""),
        ("a: [1, x]", [1, "x"]),
        ("a: {b: 1}", {"b": 1}),
    ],
)
def test_only_a_few_words_and_numbers_are_not_text(text, value):
    read = load(text).value["a"]
    assert read == value
    assert type(read) is type(value)


def test_a_very_long_number_stays_text():
    assert load("a: " + "9" * 41).value["a"] == "9" * 41
    assert load("a: " + "9" * 40).value["a"] == int("9" * 40)


def test_keys_are_always_words():
    assert load("1: x\ntrue: y\nnull: z").value == {"1": "x", "true": "y", "null": "z"}


def test_nothing_is_nothing():
    assert load("").value is None
    assert load("# only a remark\n").value is None


def test_a_key_that_stands_twice_is_told_at_its_second_place():
    error = refused("beds:\n  - id: a\n    name: x\n    id: b\n")
    assert (error.line, error.column) == (4, 5)
    assert str(error) == "plan.yaml:4:5: the key 'id' stands twice"


@pytest.mark.parametrize("text", ["a: &x 1\nb: *x\n", "a: &x [1]\n", "&x a: 1\n", "a: &x {b: 1}\n", "b: *nowhere\n"])
def test_anchors_and_aliases_are_refused(text):
    assert "anchors and aliases" in refused(text).message


def test_a_cloud_of_aliases_is_refused_at_its_first_anchor():
    bomb = "a: &a [x, x]\n" + "".join(f"{n}: &{n} [*{p}, *{p}]\n" for p, n in zip("abcdefgh", "bcdefghi", strict=True))
    error = refused(bomb)
    assert (error.line, error.column) == (1, 4)


@pytest.mark.parametrize(
    "text", ["a: !!python/object:os.system x", "a: !secret x", "a: !!str 1", "a: !!set {x}", "a: ! x"]
)
def test_tags_are_refused(text):
    error = refused(text)
    assert "tags" in error.message
    assert (error.line, error.column) == (1, 4)


def test_a_tab_is_named_as_a_tab():
    error = refused("a:\n\tb: 1\n")
    assert error.message == "a tab stands where blanks are needed"
    assert error.line == 2


def test_nesting_is_limited_before_anything_is_built():
    fits = "[" * MAX_DEPTH + "]" * MAX_DEPTH
    assert load(fits).value is not None
    assert refused("[" * (MAX_DEPTH + 1) + "]" * (MAX_DEPTH + 1)).message == f"nested deeper than {MAX_DEPTH} levels"
    assert "nest" in refused("[" * 200_000).message


@pytest.mark.parametrize(
    "text",
    [
        "a: [1, 2",
        "a: b: c",
        "a: 'open",
        "- a\nb: 1",
        "a: \x00",
        "a: @x",
        "--- a\n--- b\n",
        "? [x]\n: 1\n",
        "? {x: 1}\n: 1\n",
        "%YAML 9\n---\na",
    ],
)
@pytest.mark.parametrize("trusted", [False, True])
def test_what_is_not_our_yaml_has_a_place(text, trusted):
    error = refused(text, trusted=trusted)
    assert error.line >= 1
    assert error.column >= 1
    assert str(error).startswith(f"plan.yaml:{error.line}:{error.column}: ")
    assert error.message


def test_places_by_pointer():
    located = load("beds:\n  - id: kiln\n    size: {length: 300}\nx/y:\n  a~b: 1\n", "plan.yaml")
    assert located.where("") == (1, 1)
    assert located.where("/beds") == (2, 3)
    assert located.where("/beds/0") == (2, 5)
    assert located.where("/beds/0/id") == (2, 9)
    assert located.where("/beds/0/size/length") == (3, 20)
    assert located.where("/x~1y/a~0b") == (5, 8)
    assert located.at("beds", 0, "id") == "plan.yaml:2:9"
    assert located.at("x/y", "a~b") == "plan.yaml:5:8"


def test_a_place_that_is_not_there_is_its_nearest_parent():
    located = load("beds:\n  - id: kiln\n", "plan.yaml")
    assert located.where("/beds/0/width") == located.where("/beds/0") == (2, 5)
    assert located.where("/beds/7") == (2, 3)
    assert located.at("plantings", 3, "crop") == "plan.yaml:1:1"
    assert load("", "plan.yaml").at("beds") == "plan.yaml:1:1"


@pytest.mark.parametrize(("step", "escaped"), [("a", "a"), (0, "0"), ("a/b", "a~1b"), ("a~b", "a~0b"), ("~1", "~01")])
def test_pointer_steps_are_escaped(step, escaped):
    assert escape(step) == escaped
