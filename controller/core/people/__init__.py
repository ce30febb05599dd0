"""Do what people ask: one function per verb, each returning the memory, what is to be recorded, and one answer.

A request whose id has been dealt with is answered again and changes nothing: so a crash between the effect and the
answer does not do a thing twice.
"""

from controller.core.people import adjust, batches, heat, instruments, learning, ph, pieces, sights, words
from controller.core.people.desk import serve

__all__ = ["adjust", "batches", "heat", "instruments", "learning", "ph", "pieces", "serve", "sights", "words"]
