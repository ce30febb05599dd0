"""The review's own weight loss: whatever stands in the readings, it lies between nothing and all."""

from hypothesis import given, settings
from hypothesis import strategies as st

from controller.review.batch import ReadingRow
from controller.review.readings import weight_loss_pct

ROWS = st.lists(
    st.tuples(
        st.sampled_from(["A", "B", "C", ""]),
        st.one_of(st.none(), st.floats(-50.0, 5000.0), st.floats(0.0, 1e-6)),
        st.sampled_from(["", "out", "out; eaten", "weighed late"]),
        st.sampled_from(["weight", "weight", "weight", "ph"]),
    ),
    max_size=12,
)


def rows_of(given_rows: list[tuple[str, float | None, str, str]]) -> list[ReadingRow]:
    return [
        ReadingRow(f"r{place}", 3600.0 * place, kind, value, piece, "scale", "", note=note)
        for place, (piece, value, note, kind) in enumerate(given_rows)
    ]


@settings(max_examples=200)
@given(ROWS)
def test_the_loss_of_any_weighings_lies_between_0_and_100(given_rows: list[tuple[str, float | None, str, str]]) -> None:
    loss = weight_loss_pct(rows_of(given_rows))
    assert loss is None or 0.0 <= loss <= 100.0


@settings(max_examples=100)
@given(st.floats(50.0, 5000.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_it_is_the_share_that_has_left_of_the_slowest_piece(green_g: float, left: float, other: float) -> None:
    loss = weight_loss_pct(
        rows_of([(piece, green_g, "", "weight") for piece in "AB"])
        + rows_of([("A", green_g * max(left, 1e-3), "", "weight"), ("B", green_g * max(other, 1e-3), "", "weight")])
    )
    assert loss is not None
    assert abs(loss - 100.0 * (1.0 - max(left, other, 1e-3))) < 1e-6
