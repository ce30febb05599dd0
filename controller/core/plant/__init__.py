"""How the chamber answers to its outputs: lamp, cold, mist, fan and relays, and the air that they make together.

`look` calls the rules of this room; each looks at `Seen` and has its own memory. `arm` says what has been reached once.
"""
