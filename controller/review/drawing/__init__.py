"""Draw on paper: axes, and the few shapes of SVG that every picture here is made of. Nothing numeric is imported."""
