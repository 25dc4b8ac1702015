"""Mappings and long lists of them, read with one pass over each row.

``Rows`` is ``List(Nested(schema))`` that reads a row with one dictionary look-up a key.  The
look-ups are built from the schema's own fields, and whatever is odd about a row (a wrong type,
an unknown or missing key, a field with more than its own checks, a hook) sends that row
through the ordinary load.  So values and errors are those of the ordinary load.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import Any

from marshmallow import RAISE, Schema, ValidationError, fields, missing, pre_load, validate

from service.schemas.fields import Refused, Strict
from service.schemas.words import clean, did_you_mean, schema_messages

#: Texts that one key of one schema remembers, with what was read from them.
REMEMBERED = 2048
#: Bad rows of one list that are explained; explaining one costs as much as reading thirty good ones.
EXPLAINED = 500
#: Keys of one mapping, ``x-`` keys among them: three times as many as the longest has.
MOST_KEYS = 100
#: What a quick reader may raise on an odd row.
ODD = (Refused, ValidationError, KeyError, TypeError)

Reader = Callable[[Any], Any]


class PlainSchema(Schema):
    """A mapping as people write it: null is absent, ``x-`` keys are dropped, others must be known."""

    error_messages = {"type": "must be a group of keys and values"}  # noqa: RUF012

    def on_bind_field(self, field_name: str, field_obj: Any) -> None:
        """Word the messages of a field; let what may be absent be null."""
        schema_messages(self, field_name, field_obj)
        if not field_obj.required:
            field_obj.allow_none = True  # for the API document; the key is dropped before it is read
            forms = field_obj.metadata.get("anyOf")
            if forms:
                field_obj.metadata = {**field_obj.metadata, "anyOf": [*forms, {"type": "null"}]}

    @pre_load
    def _only_what_counts(self, data: Any, **kwargs: Any) -> Any:
        if isinstance(data, Mapping):
            if len(data) > MOST_KEYS:
                raise ValidationError(f"must have at most {MOST_KEYS} keys; got {len(data):,}")
            return {
                key: value
                for key, value in data.items()
                if value is not None and not (isinstance(key, str) and key.startswith("x-"))
            }
        return data

    def handle_error(self, error: ValidationError, data: Any, *, many: bool, **kwargs: Any) -> None:
        """Name unknown keys and the nearest known ones."""
        if many or not isinstance(data, Mapping):
            return
        messages: Any = error.messages
        known = [field.data_key or name for name, field in self.load_fields.items()]
        for key in data:
            if key in messages and key not in known:
                hint = did_you_mean(str(key), known)
                messages[key] = [f"unknown key '{clean(str(key))}'{hint}"]


class Group(fields.Nested):
    """A nested mapping; ``finish`` turns the typed data into something else when all is well."""

    def __init__(self, schema: type[PlainSchema], finish: Reader | None = None, **kwargs: Any) -> None:
        self.finish = finish
        super().__init__(schema, **kwargs)

    def _deserialize(self, value: Any, attr: Any, data: Any, partial: Any = None, **kwargs: Any) -> Any:
        read = None if partial or self.unknown is not None else quick_reader(self.schema)
        if read is not None:
            with suppress(*ODD):
                typed = read(value)
                return self.finish(typed) if self.finish else typed
        kwargs["partial"] = partial
        if self.finish is None:
            return super()._deserialize(value, attr, data, **kwargs)
        try:
            return self.finish(super()._deserialize(value, attr, data, **kwargs))
        except ValidationError as error:  # what is not finished is of no use to anyone
            raise ValidationError(error.messages) from None


class Either(Strict, fields.Raw):
    """Text read by one field or a mapping read by a schema, brought to one form.

    ``forms`` are the JSON schemas of the two, for the API document.
    """

    def __init__(
        self,
        text: Strict,
        schema: type[PlainSchema],
        *,
        of_text: Reader,
        of_group: Reader,
        forms: list[dict[str, Any]],
        **kwargs: Any,
    ) -> None:
        self.text, self.schema_class, self.of_text, self.of_group = text, schema, of_text, of_group
        self._schema: PlainSchema | None = None
        super().__init__(metadata={"anyOf": forms, **kwargs.pop("metadata", {})}, **kwargs)

    def read(self, value: Any) -> Any:
        """What the text field read, in the one form, or ``Refused``."""
        return self.of_text(self.text.read(value))

    def complaint(self, value: Any) -> str:
        """What is wrong and what would be right."""
        return self.text.complaint(value)

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> Any:
        if not isinstance(value, Mapping):
            return super()._deserialize(value, attr, data, **kwargs)
        if self._schema is None:
            self._schema = self.schema_class()
        try:
            return self.of_group(self._schema.load(value))
        except ValidationError as error:
            raise ValidationError(error.messages) from None


class Several(fields.List[Any]):
    """A list of at most ``most`` entries; a longer one is refused before any entry is read."""

    def __init__(self, entry: Any, *, most: int, **kwargs: Any) -> None:
        self.most = most
        super().__init__(entry, validate=validate.Length(max=most), **kwargs)

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> list[Any]:
        if not isinstance(value, list):
            raise self.make_error("invalid")
        if len(value) > self.most:
            key = self.data_key or self.name
            raise ValidationError(f"{key} must have at most {self.most:,} entries; got {len(value):,}")
        return self._entries(value, attr, data, **kwargs)

    def _entries(self, value: list[Any], attr: Any, data: Any, **kwargs: Any) -> list[Any]:
        return super()._deserialize(value, attr, data, **kwargs)


class _Remembered(dict[str, Any]):
    """Text -> what was read from it; anything but text is read each time and never kept."""

    __slots__ = ("_read",)

    def __init__(self, read: Reader) -> None:
        self._read = read

    def __missing__(self, value: Any) -> Any:
        typed = self._read(value)
        if type(value) is str:  # 1, 1.0 and True are one key of a dict, so only text is kept
            if len(self) >= REMEMBERED:
                self.clear()
            self[value] = typed
        return typed


def _called(read: Reader) -> Any:
    """An object whose ``[value]`` is ``read(value)``, without a bound method in between."""
    return type("Called", (), {"__getitem__": staticmethod(read)})()


def _column(field: Any) -> Any:
    """What reads one key by subscription, or None for a field that has no quick reader."""
    if field.pre_load or field.post_load:
        return None
    if isinstance(field, Strict):
        if not field.only_own:
            return None
        return _Remembered(field.read) if field.by_text else _called(field.read)
    if type(field) is Group and not field.validators and field.unknown is None:
        row, finish = quick_reader(field.schema), field.finish
        if row is None:
            return None
        return _called(row if finish is None else lambda value: finish(row(value)))
    if type(field) is Several and len(field.validators) == 1:
        entry, most = _column(field.inner), field.most
        if entry is None:
            return None

        def read_list(value: Any) -> list[Any]:
            if type(value) is list and len(value) <= most:
                return [entry[each] for each in value]
            raise Refused

        return _called(read_list)
    return None


_SAME = ("load", "handle_error", "on_bind_field", "dict_class", "_hooks")
_readers: dict[type, Reader | None] = {}


def quick_reader(schema: Schema) -> Reader | None:
    """A function from a row to its typed data that raises on anything odd; None where there is none.

    It is built once a schema class.
    """
    if schema.only is not None or schema.exclude or schema.partial or schema.unknown != RAISE or schema.many:
        return None
    cls = type(schema)
    if cls not in _readers:
        _readers[cls] = _build(schema)
    return _readers[cls]


def _build(schema: Schema) -> Reader | None:
    if not isinstance(schema, PlainSchema):
        return None
    if any(getattr(type(schema), name) != getattr(PlainSchema, name) for name in _SAME):
        return None
    columns: dict[str, Any] = {}
    for name, field in schema.load_fields.items():
        key = field.data_key or name
        if field.load_default is not missing or (field.attribute or name) != key or "." in key:
            return None
        column = _column(field)
        if column is not None:  # a key without one is "unknown" to the quick pass: the row is loaded
            columns[key] = column
    required = frozenset(field.data_key or name for name, field in schema.load_fields.items() if field.required)

    def read(row: Any) -> dict[str, Any]:
        if type(row) is not dict or not required <= row.keys():
            raise Refused
        try:
            return {key: columns[key][value] for key, value in row.items()}
        except (KeyError, Refused):
            kept = {key: value for key, value in row.items() if value is not None and key[:2] != "x-"}
            if len(kept) == len(row) or len(row) > MOST_KEYS or not required <= kept.keys():
                raise
            return {key: columns[key][value] for key, value in kept.items()}

    return read


class Rows(Several):
    """A long list of mappings, each read by ``schema``.

    On errors ``valid_data`` keeps every row's place (what could be read of a bad row, or ``{}``).
    """

    def __init__(self, schema: type[PlainSchema], *, most: int, **kwargs: Any) -> None:
        super().__init__(fields.Nested(schema), most=most, **kwargs)

    def _entries(self, value: list[Any], attr: Any, data: Any, **kwargs: Any) -> list[Any]:
        nested: Any = self.inner
        read = None if kwargs.get("partial") else quick_reader(nested.schema)
        rows: list[Any] = []
        errors: dict[int, Any] = {}
        for index, row in enumerate(value):
            if read is not None:
                try:
                    rows.append(read(row))
                    continue
                except ODD:
                    pass
            if len(errors) >= EXPLAINED:
                errors[index] = [f"not looked at, as {EXPLAINED} entries before it are wrong"]
                rows.append({})
                continue
            try:
                rows.append(nested.deserialize(row, **kwargs))
            except ValidationError as error:
                errors[index] = error.messages
                rows.append(error.valid_data or {})
        if errors:
            raise ValidationError(errors, valid_data=rows)
        return rows
