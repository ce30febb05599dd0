"""How figures are put into a sentence for a person: no finer than a kitchen measures."""


def degrees(temp_c: float) -> str:
    """Return a temperature with at most one decimal, as 11.7 °C: 53F typed is no 11.6667."""
    return f"{round(temp_c, 1):g} °C"
