"""Which wire goes where: a list of wires made from a chamber file, as a table and as a drawing."""
