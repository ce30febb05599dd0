"""Let hypothesis invent whole files: bytes, lines, tables, trees of JSON, TOML and MessagePack."""

import json
from typing import Any

import msgspec
import tomli_w
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from tests.fuzz.harness import Target, feed, within

WORDS = st.sampled_from(
    ("name", "id", "time", "kind", "value", "stage", "hours", "request", "version", "ph", "batches")
)
LEAVES = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20)
TREES = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(WORDS | st.text(max_size=8), inner, max_size=5),
    max_leaves=20,
)
TABLES = st.dictionaries(WORDS | st.text(min_size=1, max_size=8), TREES, max_size=6)
ROWS = st.lists(st.lists(WORDS | st.text(max_size=12) | st.floats().map(str), max_size=8), max_size=8)


def _toml(tree: dict[str, Any]) -> bytes:
    try:
        return tomli_w.dumps(_without_none(tree)).encode("utf-8", "surrogatepass")
    except (TypeError, ValueError, AttributeError):
        return b"a = 1"


def _without_none(value: Any) -> Any:  # noqa: ANN401 - any tree
    if isinstance(value, dict):
        return {key: _without_none(item) for key, item in value.items() if item is not None}
    return [_without_none(item) for item in value if item is not None] if isinstance(value, list) else value


def _msgpack(tree: Any) -> bytes:  # noqa: ANN401 - any tree
    try:
        return msgspec.msgpack.encode(tree)
    except (OverflowError, UnicodeEncodeError):
        return b"\x80"


FILES = st.one_of(
    st.binary(max_size=400),
    st.text(max_size=400).map(lambda text: text.encode("utf-8", "surrogatepass")),
    TREES.map(lambda tree: json.dumps(tree).encode()),
    TABLES.map(_toml),
    TREES.map(_msgpack),
    ROWS.map(lambda rows: "\r\n".join(",".join(row) for row in rows).encode("utf-8", "surrogatepass")),
)


def require_nothing_comes_out(target: Target, examples: int, from_seed: int) -> None:
    """Feed so many invented files to a target; whatever it raises comes out with the smallest file that shows it."""

    @seed(from_seed)
    @settings(
        max_examples=examples,
        deadline=None,
        database=None,
        phases=(Phase.generate, Phase.shrink),
        suppress_health_check=list(HealthCheck),
    )
    @given(FILES)
    def nothing_comes_out(data: bytes) -> None:
        with within(20.0):
            feed(target, target.of_bytes(data))

    nothing_comes_out()
