"""What instruments are checked against: ice, salt solutions, buffers."""
