"""The pages: what is shown, in lines of at most 80 columns."""
