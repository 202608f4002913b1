pair=differences=None
