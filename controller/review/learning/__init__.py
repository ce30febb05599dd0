"""Identification: from the rows of a step test to figures with their errors. numpy and scipy are at home here."""
