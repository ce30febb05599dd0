"""Compare batches on one time axis that begins when the meat is hung.

`traits` says what one batch was like, `recipe` what differs in what was meant, `scatter` how far the maker's earlier
batches lie apart, `comparison` puts it together, `chart` draws curves with plain characters.
"""
