"""The pictures of a report: each drawn twice, for a page and for a narrow screen, with a table of its figures.

Everything is told apart by the style of its line, by its shape or by a word; greys only help.
"""
