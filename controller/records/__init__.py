"""Everything on disk: climate log, events, readings, checkpoint, batch folder, request box, status file.

Nothing is decided here. Rows are appended whole and forced to disk; states are replaced whole; nothing recorded is
ever rewritten.
"""
