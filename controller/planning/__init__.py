"""Plan a batch before the meat is bought: the bowl, the order of the day, the sheet for the kitchen wall."""
