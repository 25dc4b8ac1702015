"""What is no document says why."""

import pytest
from read_documents import Builder, data_of, read

import service.reading as reading_module
from service.reading import (
    BrokenJson,
    BrokenYaml,
    Empty,
    NotText,
    TooDeep,
    TooLarge,
    Unreadable,
    parse,
)

DEEP = b'{"x-a":' + b"[" * 40 + b"]" * 40 + b"}"


DEEPER = b'{"x-a":' + b"[" * 100_000 + b"]" * 100_000 + b"}"


UNREADABLE = [
    (b'{"name": "\xff"}', "json", NotText, "byte 11 is not"),
    (b"name: \xff", "yaml", NotText, "byte 7 is not"),
    ('{"a": 1}'.encode("utf-16"), "json", NotText, "not UTF-8"),
    (b"", "json", Empty, "empty"),
    (b"\xef\xbb\xbf \n", "yaml", Empty, "empty"),
    (b'{"beds": [}', "json", BrokenJson, "line 1, column 11"),
    (b'{"beds": []} x', "json", BrokenJson, "line 1"),
    (b'{"count": NaN}', "json", BrokenJson, "NaN is not a number"),
    (b'{"count": -Infinity}', "json", BrokenJson, "-Infinity is not a number"),
    (b'{"count": ' + b"9" * 5000 + b"}", "json", BrokenJson, "too many digits"),
    (b'{"beds": [], "beds": []}', "json", BrokenJson, "the key 'beds' stands twice"),
    (b'{"beds": [{"id": "a", "id" : "b"}]}', "json", BrokenJson, "the key 'id' stands twice"),
    (b'{"beds": [{"id": "a", "\\u0069d": "b"}]}', "json", BrokenJson, "the key 'id' stands twice"),
    (b'{"garden": {"name": "a:b", "name": "c"}}', "json", BrokenJson, "the key 'name' stands twice"),
    (DEEP, "json", TooDeep, "deeper than 32"),
    (DEEPER, "json", TooDeep, "deeper than 32"),
    (b"a: " + b"[" * 40 + b"]" * 40, "yaml", TooDeep, "deeper than 32"),
    (b"a: [1", "yaml", BrokenYaml, "line"),
    (b"beds: []\nbeds: []\n", "yaml", BrokenYaml, "(line 2, column 1)"),
    (b"beds: &a []\ncovers: *a\n", "yaml", BrokenYaml, "aliases"),
    (b"beds: !!set {}\n", "yaml", BrokenYaml, "tags"),
    (b"beds:\n\t- id: a\n", "yaml", BrokenYaml, "(line 2, column 1)"),
    (b"name: \x07\n", "yaml", BrokenYaml, "YAML"),
    (b" " * (4 * 1024 * 1024 + 1), "json", TooLarge, "larger than 4 MB"),
    (b"#" * (256 * 1024 + 1), "yaml", TooLarge, "larger than 256 KB"),
]


@pytest.fixture(params=["quick", "standard"])
def json_reader(request, monkeypatch):
    """Each test with the quick JSON reader and without it: they decide alike."""
    if request.param == "standard":
        monkeypatch.setattr(reading_module, "quick_loads", None)
    elif reading_module.quick_loads is None:
        pytest.skip("orjson is not installed")


@pytest.mark.usefixtures("json_reader")
@pytest.mark.parametrize(("body", "kind", "failure", "words"), UNREADABLE, ids=lambda value: str(value)[:24])
def test_what_is_no_document_says_why(body, kind, failure, words):
    with pytest.raises(Unreadable) as unreadable:
        read(body, kind=kind, build_plan=Builder())
    assert type(unreadable.value) is failure
    assert words in unreadable.value.detail
    assert unreadable.value.status == (413 if failure is TooLarge else 400)


@pytest.mark.usefixtures("json_reader")
@pytest.mark.parametrize(
    ("body", "document"),
    [
        (b'{"garden": {"name": "a:b"}, "beds" : []}', {"garden": {"name": "a:b"}, "beds": []}),
        (b'{"count": 25.0, "x": 1e3}', {"count": 25.0, "x": 1000.0}),
        (b'{"x": 1e999}', {"x": float("inf")}),
        (b'{"x": "\\ud800"}', {"x": "\ud800"}),
        (b"{}", {}),
    ],
)
def test_json_is_read_alike_with_and_without_the_quick_reader(body, document):
    assert parse(body, "json") == (document, None)


def test_a_document_at_the_limit_of_depth_is_read():
    body = b'{"x-a":' + b"[" * 31 + b"]" * 31 + b"}"
    assert data_of(body) == {}
