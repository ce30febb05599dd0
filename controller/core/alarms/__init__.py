"""Alarms after IEC 62682 and OPC UA part 9 (OPC 10000-9): what must be answered by a person, called once for one cause.

An alarm is something a person must do something about. What needs nobody is an event. One occurrence has one name, its
row of the fault table and a count, as `A3-2`.

`condition` is what the rules hand over; `book` raises, renews and ends; `cause` finds which alarm another one follows
from; `calling` calls again, and says when the sounder sounds; `asked` does what people ask; `message` finds the words;
`memory` is what is remembered. Of the standard's words: on-delay and off-delay are figures of the row, the deadband is
the rule's own, `latched` is the row's and the condition's, acknowledged is `seen`, shelved is `quiet`, suppressed by
design is `hides` (it came after its cause) and `follows` (it came before it).
"""

from controller.core.alarms.condition import Condition

__all__ = ["Condition"]
