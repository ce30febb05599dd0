"""Values of the right type that nobody foresaw: what passes a decoder and meets the sums behind it."""

import random
from collections.abc import Iterator
from typing import Any, Final

import msgspec
from msgspec import inspect

FLOATS: Final = (
    0.0, -0.0, 1.0, -1.0, 5.3, 100.0, 1e9, -1e9, 1.8e9, 1e17, 1e308, -1e308, 5e-324, float("nan"), float("inf"),
    float("-inf"),
)  # fmt: skip
INTS: Final = (0, 1, -1, 2, 3, 7, 50, 1000, 2**31, 2**63 - 1, -(2**63))
TEXTS: Final = (
    "", "x", "b", "b2", "new", "ferment", "warm", "dry", "A", "A2-1", "S1-1", "meter", "strips", "scale", "\0", "\n",
    "é" * 300, "../x", 'unit, "quoted"\r\nline', "🥩", "2026-01-05-bench-1", "x" * 5000,
)  # fmt: skip
Place = tuple[Any, Any, inspect.Type]
"""Container, key, and the type of what stands there."""


def places_of(kind: Any, value: Any) -> list[Place]:  # noqa: ANN401 - any type, any value of it
    """Return every place in a tree of builtins that was made from a value of this type."""
    return list(_walk(inspect.type_info(kind), value))


def _walk(info: inspect.Type, value: Any) -> Iterator[Place]:  # noqa: ANN401
    info = _meant(info, value)
    if isinstance(info, inspect.StructType | inspect.DataclassType) and isinstance(value, dict):
        for field in info.fields:
            if field.encode_name in value:
                yield value, field.encode_name, field.type
                yield from _walk(field.type, value[field.encode_name])
    elif isinstance(info, inspect.DictType) and isinstance(value, dict):
        for key in value:
            yield value, key, info.value_type
            yield from _walk(info.value_type, value[key])
    elif isinstance(info, inspect.VarTupleType | inspect.ListType) and isinstance(value, list):
        for place, item in enumerate(value):
            yield value, place, info.item_type
            yield from _walk(info.item_type, item)
    elif isinstance(info, inspect.TupleType) and isinstance(value, list):
        for place, (kind, item) in enumerate(zip(info.item_types, value, strict=False)):
            yield value, place, kind
            yield from _walk(kind, item)


def _meant(info: inspect.Type, value: Any) -> inspect.Type:  # noqa: ANN401
    """Return which type of a union this value has."""
    if not isinstance(info, inspect.UnionType):
        return info
    for kind in info.types:
        if isinstance(kind, inspect.StructType) and isinstance(value, dict):
            if kind.tag is None or value.get(kind.tag_field or "type") == kind.tag:
                return kind
        elif isinstance(kind, inspect.NoneType) == (value is None) and not isinstance(kind, inspect.StructType):
            return kind
    return info.types[0]


def spoil_typed(rng: random.Random, kind: Any, value: Any, floats: tuple[float, ...] = FLOATS) -> None:  # noqa: ANN401
    """Change one to four places of a tree, which is changed itself, each to another value of its type."""
    for _ in range(rng.choice((1, 1, 1, 2, 3, 4))):
        found = places_of(kind, value)
        if not found:
            return
        node, key, info = rng.choice(found)
        old = node[key]
        if isinstance(old, list) and rng.random() < 0.6:
            _spoil_list(rng, old)
        elif isinstance(old, float) and old == old and abs(old) < 1e300 and rng.random() < 0.4:  # noqa: PLR0124
            node[key] = old * rng.choice((-1.0, 0.0, 0.5, 0.99, 1.01, 2.0, 1e3)) + rng.choice((0.0, 1.0, -1.0))
        else:
            node[key] = any_value(rng, info, floats)


def _spoil_list(rng: random.Random, items: list[Any]) -> None:
    if items and rng.random() < 0.5:
        del items[rng.randrange(len(items))]
    elif items:
        items.insert(rng.randint(0, len(items)), rng.choice(items))


def any_value(rng: random.Random, info: inspect.Type, floats: tuple[float, ...] = FLOATS, depth: int = 0) -> Any:  # noqa: ANN401
    """Return any value of a type, as builtins."""
    match info:
        case inspect.FloatType():
            return rng.choice((*floats, rng.uniform(-20.0, 120.0)))
        case inspect.IntType():
            return rng.choice(INTS)
        case inspect.StrType():
            return rng.choice(TEXTS)
        case inspect.BoolType():
            return rng.random() < 0.5
        case inspect.NoneType():
            return None
        case inspect.LiteralType():
            return rng.choice(info.values)
        case inspect.UnionType():
            return any_value(rng, rng.choice(info.types), floats, depth)
        case inspect.VarTupleType() | inspect.ListType():
            length = 0 if depth > 3 else rng.choice((0, 1, 1, 2, 5))
            return [any_value(rng, info.item_type, floats, depth + 1) for _ in range(length)]
        case inspect.TupleType():
            return [any_value(rng, kind, floats, depth + 1) for kind in info.item_types]
        case inspect.DictType():
            length = 0 if depth > 3 else rng.choice((0, 1, 2))
            return {
                any_value(rng, info.key_type): any_value(rng, info.value_type, floats, depth + 1) for _ in range(length)
            }
        case inspect.StructType() | inspect.DataclassType():
            return _any_struct(rng, info, floats, depth)
        case inspect.DateType():
            return rng.choice(("2026-01-05", "0001-01-01", "9999-12-31"))
    raise AssertionError(f"nothing is known of {info}")


def _any_struct(
    rng: random.Random, info: inspect.StructType | inspect.DataclassType, floats: tuple[float, ...], depth: int
) -> dict[str, Any]:
    made = {
        field.encode_name: any_value(rng, field.type, floats, depth + 1)
        for field in info.fields
        if field.required or rng.random() < (0.3 if depth < 3 else 0.05)
    }
    return (
        made
        if isinstance(info, inspect.DataclassType) or info.tag is None
        else {info.tag_field or "type": info.tag, **made}
    )


def builtins_of(value: Any) -> Any:  # noqa: ANN401
    """Return a value as dicts, lists, strings and numbers that can be changed."""
    return _changeable(msgspec.to_builtins(value, str_keys=True))


def _changeable(value: Any) -> Any:  # noqa: ANN401
    if isinstance(value, dict):
        return {key: _changeable(item) for key, item in value.items()}
    return [_changeable(item) for item in value] if isinstance(value, list | tuple) else value
